// The boards at this computer, as the server records them: ports by the system's list,
// clocks, notices, and the computer kept awake while anything is recorded.

import { basename } from 'node:path';
import type { HostClock } from '../contract/time.ts';
import { findBoards } from '../link/find.ts';
import type { KnownBoard } from '../link/known-boards.ts';
import type { OpenPort } from '../link/port.ts';
import type { ListPorts } from '../link/ports.ts';
import { usualSettings } from '../link/settings.ts';
import type { Notices } from '../notify/notices.ts';
import { NightWatch } from '../notify/watch.ts';
import type { Awake } from '../recorder/awake.ts';
import { BYTES_PER_S_OF } from '../recorder/disk.ts';
import type { Disk } from '../recorder/disk.ts';
import { LOW_V } from '../recorder/low-battery.ts';
import { record } from '../recorder/record.ts';
import type { RecordSummary } from '../recorder/record.ts';
import type { FoundBoard, RecordRequest, Workbench } from '../server/live/workbench.ts';
import { boardAtHand } from './proved-board.ts';
import { summaryInWords } from './record-screen.ts';

declare const NIGHTDRAW_VERSION: string;

/** What recordings need of a computer: this one in the program, one of the test's own in tests. */
export interface Computer {
  clock: HostClock;
  openPort: OpenPort;
  listPorts: ListPorts;
  disk: Disk;
  /** Until it is stopped. @param onNote told where that does not work */
  keepAwake(onNote: (text: string) => void): Pick<Awake, 'stop'>;
  /** What may end a night early here, each in a sentence. */
  warnings(): string[];
  /** Keeps where a board was seen. */
  remember(board: KnownBoard): void;
}

/** Who is told of recordings from the server, and at which battery voltage. */
export interface Telling {
  notices: Pick<Notices, 'tell'>;
  below_V: number;
}

/** The ports that the system lists, and those `also`, which it does not. */
function portsAnd(listPorts: ListPorts, also: readonly string[]): ListPorts {
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
export function workbench(computer: Computer, also: readonly string[], telling: Telling | null = null): Workbench {
  const { clock, openPort, disk } = computer;
  const ports = portsAnd(computer.listPorts, also);
  /** The numbers of the boards that were found, by their ports. */
  const numbers = new Map<string, number>();
  const remember = (id: number, path: string) => computer.remember({ id, path, seen_ms: clock.wall_ms() });
  const toRecorder = (request: RecordRequest) =>
    record({
      ...request,
      origin: null,
      wanted: usualSettings,
      bytesPerS: BYTES_PER_S_OF.bursts,
      software: NIGHTDRAW_VERSION,
      low_V: telling?.below_V ?? LOW_V,
      disk,
      listPorts: ports,
      clock,
      openPort,
    });
  return {
    async find(except, signal) {
      const wanted: ListPorts = async () => (await ports()).filter(({ path }) => !except.includes(path));
      const found = await findBoards(wanted, { time: clock, openPort }, signal);
      for (const { port, hello } of found) if (hello !== null) numbers.set(port.path, hello.id);
      return found.map(({ port, hello, certificate, trouble }): FoundBoard => ({
        port: port.path,
        about: port.about,
        hello,
        certificate,
        trouble: trouble?.message ?? null,
      }));
    },
    async record(request) {
      for (const warning of computer.warnings()) request.onNote(warning);
      const awake = computer.keepAwake(request.onNote);
      // At the beginning already: after a power cut it is known again.
      const number = numbers.get(request.port);
      if (number !== undefined) remember(number, request.port);
      try {
        const { board } = await (telling === null
          ? toRecorder(request)
          : recordTelling(request, telling, clock, toRecorder));
        remember(board.id, request.port);
      } finally {
        awake.stop();
      }
    },
    prove: (port, by, signal) => boardAtHand(port, by, { clock, openPort }, signal),
    free_bytes: (path) => disk.free(path),
  };
}

/** Tells of a night while it is recorded, and how it ended, unless the server itself leaves it. */
async function recordTelling(
  request: RecordRequest,
  { notices, below_V }: Telling,
  clock: HostClock,
  toRecorder: (request: RecordRequest) => Promise<RecordSummary>,
): Promise<RecordSummary> {
  const name = basename(request.out);
  const watch = new NightWatch(name, below_V, (event) => notices.tell(event));
  let began = false,
    left = false;
  try {
    const summary = await toRecorder({
      ...request,
      onProgress: (progress) => {
        began = true;
        watch.progressed(progress, clock.now_us() / 1000);
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
