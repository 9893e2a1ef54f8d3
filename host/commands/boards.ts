// `boards`: what is at the serial ports of this computer, and which boards were met before.

import { boardNumber } from '../say/board.ts';
import { checkedWords } from '../say/certificate.ts';
import { findBoards } from '../link/find.ts';
import type { Found } from '../link/find.ts';
import { knownBoardsPath, readKnownBoards, rememberBoard } from '../link/known-boards.ts';
import type { KnownBoard } from '../link/known-boards.ts';
import { listPorts, noPortAdvice, withoutDriver } from '../link/ports.ts';
import { openSerialPort } from '../link/serial-port.ts';
import { UsageError } from './command.ts';
import type { Command } from './command.ts';
import { hostClock } from './host-clock.ts';
import { stopSignal } from './stop.ts';
import { answer } from './tell.ts';

export const command: Command = {
  help: `nightdraw boards

Opens every serial port, listens for some seconds, and asks what speaks as a
board does. Other devices are opened and told nothing. Boards that were met
before and are not here now are listed with where they were.`,
  options: {},
  positionals: 0,
  async run() {
    const file = knownBoardsPath(process.platform, process.env);
    const found = await findBoards(listPorts, { time: hostClock, openPort: openSerialPort }, stopSignal());
    const known = readKnownBoards(file);
    for (const line of listed(found, known)) answer(line);
    for (const driver of process.platform === 'linux' ? withoutDriver() : []) answer(driver);
    if (found.length === 0) answer(`no serial port is there; ${noPortAdvice(process.platform)}`);
    for (const { port, hello } of found)
      if (hello !== null) rememberBoard(file, { id: hello.id, path: port.path, seen_ms: hostClock.wall_ms() });
    return 0;
  },
};

function listed(found: readonly Found[], known: readonly KnownBoard[]): string[] {
  const here = new Set(found.flatMap(({ hello }) => (hello === null ? [] : [hello.id])));
  const ports = found.map(({ port, hello, certificate, trouble }) => {
    if (hello !== null) {
      const checked = certificate === null ? 'not proved yet' : checkedWords(certificate, hello.cal_gen);
      return `${port.path}  board ${boardNumber(hello.id)}, firmware ${hello.fw}, sense chip ${hello.sensor}; ${checked}`;
    }
    const about = port.about === null ? '' : ` (${port.about})`;
    return `${port.path}${about}  ${trouble!.message}`;
  });
  const away = known.filter(({ id }) => !here.has(id));
  return [
    ...ports,
    ...away.map(
      ({ id, path, seen_ms }) =>
        `board ${boardNumber(id)} is not here; it was at ${path} on ${new Date(seen_ms).toLocaleString('en-GB')}`,
    ),
  ];
}

/**
 * The port to record from where none was given: the one board that is there, or the one
 * of that number.
 * @throws UsageError naming what there is to choose from; Error where there is nothing
 */
export async function choosePort(board: number | null, signal: AbortSignal): Promise<string> {
  const found = await findBoards(listPorts, { time: hostClock, openPort: openSerialPort }, signal);
  const boards = found.filter(({ hello }) => hello !== null && (board === null || hello.id === board));
  if (boards.length === 1) return boards[0]!.port.path;
  if (boards.length > 1) {
    const names = boards.map(({ port, hello }) => `--port ${port.path} (board ${boardNumber(hello!.id)})`).join(', ');
    throw new UsageError(`${boards.length} boards are here; say which one: ${names}`);
  }
  const which = board === null ? 'no board was found' : `board ${boardNumber(board)} was not found`;
  if (found.length === 0)
    throw new Error(`${which}: no serial port is there; ${withoutDriver()[0] ?? noPortAdvice(process.platform)}`);
  // The trouble of the likeliest port says more than a count does.
  const told = found.find(({ trouble }) => trouble?.kind === 'busy' || trouble?.kind === 'forbidden') ?? found[0]!;
  throw new Error(`${which} at ${found.map(({ port }) => port.path).join(', ')}; ${told.trouble!.message}`);
}
