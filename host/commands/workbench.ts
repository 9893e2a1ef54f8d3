// The boards at this computer, as the server records them: ports by the system's list,
// clocks, and the computer kept awake while anything is recorded.

import { knownBoardsPath, rememberBoard } from '../link/known-boards.ts';
import { findBoards } from '../link/find.ts';
import { listPorts } from '../link/ports.ts';
import type { ListPorts } from '../link/ports.ts';
import { usualSettings } from '../link/settings.ts';
import { holdCommand, keepAwake } from '../recorder/awake.ts';
import type { Awake } from '../recorder/awake.ts';
import { BYTES_PER_S_OF, realDisk } from '../recorder/disk.ts';
import { preflight } from '../recorder/preflight.ts';
import { record } from '../recorder/record.ts';
import type { FoundBoard, Workbench } from '../server/live/workbench.ts';
import { monotonic_us, uptime_s, wall_ms } from './host-clock.ts';
import { LOW_V } from './record.ts';

declare const NIGHTDRAW_VERSION: string;

/** @param also a port that the system does not list, such as an emulated board's; null for none */
export function workbench(also: string | null): Workbench {
  const ports: ListPorts = async () => {
    // Where the system gives no list, the port that was named still works.
    const listed = await listPorts().catch((error: unknown) => {
      if (also === null) throw error;
      return [];
    });
    return also === null || listed.some(({ path }) => path === also) ? listed : [...listed, { path: also, about: null }];
  };
  return {
    async find(except, signal) {
      const wanted: ListPorts = async () => (await ports()).filter(({ path }) => !except.includes(path));
      const found = await findBoards(wanted, monotonic_us, signal);
      return found.map(({ port, hello, trouble }): FoundBoard => ({ port: port.path, about: port.about, hello, trouble: trouble?.message ?? null }));
    },
    async record(request) {
      for (const warning of preflight(process.platform)) request.onNote(warning);
      const awake: Awake = keepAwake(holdCommand(process.platform), request.onNote);
      try {
        const { board } = await record({
          ...request, origin: null, wanted: usualSettings, bytesPerS: BYTES_PER_S_OF.bursts, software: NIGHTDRAW_VERSION, low_V: LOW_V, disk: realDisk, listPorts: ports,
          clock: { mono_us: monotonic_us, wall_ms, up_s: uptime_s },
        });
        rememberBoard(knownBoardsPath(process.platform, process.env), { id: board.id, path: request.port, seen_ms: Date.now() });
      } finally {
        awake.stop();
      }
    },
    free_bytes: (path) => realDisk.free(path),
  };
}
