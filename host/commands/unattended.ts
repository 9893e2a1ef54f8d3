// What `serve --unattended` needs to know of this computer: which ports are there, and
// which boards were met before.

import { boardNumber } from '../say/board.ts';
import { existsSync } from 'node:fs';
import { knownBoardsPath, readKnownBoards } from '../link/known-boards.ts';
import { listPorts, portsInDev } from '../link/ports.ts';
import type { UnattendedParts } from '../server/live/unattended.ts';

/** @param also ports that the system does not list */
export function unattendedHere(also: readonly string[]): UnattendedParts {
  return {
    ports: async () => [...(await plugged()), ...also.filter((port) => existsSync(port))],
    known: () => readKnownBoards(knownBoardsPath(process.platform, process.env)).map(({ id }) => boardNumber(id)),
  };
}

/** Asked every two seconds: a look into /dev costs less than the list, for which the system runs a program. */
async function plugged(): Promise<string[]> {
  const inDev = process.platform === 'linux' ? portsInDev('/dev') : null;
  return (inDev ?? (await listPorts())).map(({ path }) => path);
}
