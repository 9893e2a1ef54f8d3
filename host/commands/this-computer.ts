// This computer as recordings from the server find it: its clock, ports, disk and sleep, and
// what it remembers of boards.

import { knownBoardsPath, rememberBoard } from '../link/known-boards.ts';
import { listPorts } from '../link/ports.ts';
import { openSerialPort } from '../link/serial-port.ts';
import { holdCommand, keepAwake } from '../recorder/awake.ts';
import { realDisk } from '../recorder/disk.ts';
import { preflight } from '../recorder/preflight.ts';
import { hostClock } from './host-clock.ts';
import type { Computer } from './workbench.ts';

export const thisComputer: Computer = {
  clock: hostClock,
  openPort: openSerialPort,
  listPorts,
  disk: realDisk,
  keepAwake: (onNote) => keepAwake(holdCommand(process.platform), onNote),
  warnings: () => preflight(process.platform),
  remember: (board) => rememberBoard(knownBoardsPath(process.platform, process.env), board),
};
