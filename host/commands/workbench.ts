// The boards at this computer, as the server records them: ports by the system's list,
// clocks, notices, and the computer kept awake while anything is recorded.

import { basename } from 'node:path';
import { knownBoardsPath, rememberBoard } from '../link/known-boards.ts';
import { findBoards } from '../link/find.ts';
import { listPorts } from '../link/ports.ts';
import type { ListPorts } from '../link/ports.ts';
import { openSerialPort } from '../link/serial-port.ts';
import { usualSettings } from '../link/settings.ts';
import type { Notices } from '../notify/notices.ts';
import { NightWatch } from '../notify/watch.ts';
import { holdCommand, keepAwake } from '../recorder/awake.ts';
import type { Awake } from '../recorder/awake.ts';
import { BYTES_PER_S_OF, realDisk } from '../recorder/disk.ts';
import { LOW_V } from '../recorder/low-battery.ts';
import { preflight } from '../recorder/preflight.ts';
import { record } from '../recorder/record.ts';
import type { RecordSummary } from '../recorder/record.ts';
import type { FoundBoard, RecordRequest, Workbench } from '../server/live/workbench.ts';
import { hostClock } from './host-clock.ts';
import { summaryInWords } from './record-screen.ts';

declare const NIGHTDRAW_VERSION: string;

/** Who is told of recordings from the server, and at which battery voltage. */
export interface Telling {
  notices: Pick<Notices, 'tell'>;
  below_V: number;
}

/** The ports of this computer and those `also`, which the system does not list. */
export function portsAnd(also: readonly string[]): ListPorts {
  return async () => {
    // Where the system gives no list, the ports that were named still work.
    const listed = await listPorts().catch((error: unknown) => {
      if (also.length === 0) throw error;
      return [];
    });
    const unlisted = [...new Set(also)].filter((port) => !listed.some(({ path }) => path === port));
    return [...listed, ...unlisted.map((path) => ({ path, about: null }))];
  };
}

/** @param also ports that the system does not list, such as emulated boards' */
export function workbench(also: readonly string[], telling: Telling | null = null): Workbench {
  const ports = portsAnd(also);
  /** The numbers of the boards that were found, by their ports. */
  const numbers = new Map<string, number>();
  const remember = (id: number, path: string) => rememberBoard(knownBoardsPath(process.platform, process.env), { id, path, seen_ms: hostClock.wall_ms() });
  const toRecorder = (request: Told) => record({
    ...request, origin: null, wanted: usualSettings, bytesPerS: BYTES_PER_S_OF.bursts, software: NIGHTDRAW_VERSION, low_V: telling?.below_V ?? LOW_V, disk: realDisk, listPorts: ports,
    clock: hostClock, openPort: openSerialPort,
  });
  return {
    async find(except, signal) {
      const wanted: ListPorts = async () => (await ports()).filter(({ path }) => !except.includes(path));
      const found = await findBoards(wanted, { time: hostClock, openPort: openSerialPort }, signal);
      for (const { port, hello } of found) if (hello !== null) numbers.set(port.path, hello.id);
      return found.map(({ port, hello, trouble }): FoundBoard => ({ port: port.path, about: port.about, hello, trouble: trouble?.message ?? null }));
    },
    async record(request) {
      for (const warning of preflight(process.platform)) request.onNote(warning);
      const awake: Awake = keepAwake(holdCommand(process.platform), request.onNote);
      // At the beginning already: after a power cut it is known again.
      const number = numbers.get(request.port);
      if (number !== undefined) remember(number, request.port);
      try {
        const { board } = await (telling === null ? toRecorder(request) : recordTelling(request, telling, toRecorder));
        remember(board.id, request.port);
      } finally {
        awake.stop();
      }
    },
    free_bytes: (path) => realDisk.free(path),
  };
}

type Told = Omit<RecordRequest, 'onProgress'> & { onProgress: Parameters<typeof record>[0]['onProgress'] };

/** Tells of a night while it is recorded, and how it ended, unless the server itself leaves it. */
async function recordTelling(request: RecordRequest, { notices, below_V }: Telling, toRecorder: (request: Told) => Promise<RecordSummary>): Promise<RecordSummary> {
  const name = basename(request.out);
  const watch = new NightWatch(name, below_V, (event) => notices.tell(event));
  let began = false, left = false;
  try {
    const summary = await toRecorder({
      ...request,
      onProgress: (progress, state) => {
        began = true;
        watch.look(state === 'measuring', progress.voltage_V, hostClock.now_us() / 1000);
        left = true;
        request.onProgress(progress);
        left = false;
      },
    });
    watch.done(summaryInWords(name, summary));
    return summary;
  } catch (error) {
    if (began && !left) watch.stopped((error as Error).message.replaceAll(request.out, name));
    throw error;
  }
}
