// `serve`: the morning view of a folder of captures, and recordings from it.

import { dirname } from 'node:path';
import { knownBoardsPath } from '../link/known-boards.ts';
import { desktopCommand } from '../notify/desktop.ts';
import { openNotices } from '../notify/notices.ts';
import { blocksOf } from '../server/lan/code.ts';
import { lanAddress } from '../server/lan/address.ts';
import { serve } from '../server/serve.ts';
import { carKey } from './car-key.ts';
import { optionalNumber } from './command.ts';
import type { Command, OptionValues } from './command.ts';
import { nightOptions } from './night-options.ts';
import { reportsInThreads } from './reports.ts';
import { noticeSettings, workshopSettings } from './settings-file.ts';
import { PAGE_DIR } from './shipped.ts';
import { hostClock } from './host-clock.ts';
import { stopped, stopSignal } from './stop.ts';
import { answer, tell } from './tell.ts';
import { unattendedHere } from './unattended.ts';
import { thisComputer } from './this-computer.ts';
import { workbench } from './workbench.ts';

declare const NIGHTDRAW_VERSION: string;

/** A fixed port, so that a bookmark keeps; any free one with --port 0. */
export const DEFAULT_PORT = 4310;

/** A notice that is on its way when this is ended is waited for no longer. */
const NOTIFY_LAST_MS = 5000;

export const command: Command = {
  help: `nightdraw serve [--dir FOLDER] [--port N] [--lan] [--unattended] [--settings FILE]

Serves the view on this computer alone and prints its address. Boards can be
recorded from it, several at once. Ctrl-C ends it; what was being recorded then
is kept unfinished, and gone on with when it is served again within 15 minutes.

  --dir FOLDER       folder of captures and CSV files (default: captures)
  --port N           port to listen on, 0 for any free one (default: ${DEFAULT_PORT})
  --settings FILE    workshop's settings (default: nightdraw.json in FOLDER or here);
                     notify_url and notify_desktop in it say who is told of a night
  --lan              lets a tablet or phone in the same network in: prints a code to
                     scan, good once, and another after each use. What goes over
                     the network is not encrypted: only in a network you trust
  --lan-address IP   this computer's address there, where it has several
  --unattended       records a board that this computer has recorded before as soon
                     as it is plugged in, goes on after a power cut of up to 16 h,
                     and ends when the board has been away for an hour
  --board-port PATH  a board's port that this computer does not list by itself; may be
                     given several times`,
  options: {
    dir: { type: 'string' },
    port: { type: 'string' },
    settings: { type: 'string' },
    lan: { type: 'boolean' },
    'lan-address': { type: 'string' },
    unattended: { type: 'boolean' },
    'board-port': { type: 'string', multiple: true },
  },
  positionals: 0,
  async run(values) {
    const port = optionalNumber(values, 'port', 0, 65535, '') ?? DEFAULT_PORT;
    const dir = text(values, 'dir') ?? 'captures';
    const named = text(values, 'settings') ?? undefined;
    const workshop = workshopSettings(named, [dir, '.']);
    nightOptions(workshop);
    const telling = noticeSettings(named, [dir, '.']);
    const notices = openNotices(telling, desktopCommand(process.platform, process.env), tell, hostClock);
    const signal = stopSignal();
    const unattended = values['unattended'] === true;
    const lan = lanOf(values, unattended);
    const ports = texts(values, 'board-port');
    const serving = await serve({
      clock: hostClock,
      dir,
      carKey: carKey(dirname(knownBoardsPath(process.platform, process.env))),
      port,
      workshop,
      software: NIGHTDRAW_VERSION,
      pageDir: PAGE_DIR,
      bench: workbench(thisComputer, ports, notices === null ? null : { notices, below_V: telling.below_V }),
      makeReport: reportsInThreads(workshop, [dir, '.']),
      ...(lan === null ? {} : { lan, onCode: showCode }),
      ...(unattended ? { unattended: unattendedHere(ports) } : {}),
      log: tell,
    });
    answer(`The view is at ${serving.url}  (Ctrl-C ends it)`);
    await stopped(signal);
    await serving.close();
    await notices?.close(NOTIFY_LAST_MS);
    return 0;
  },
};

const text = (values: OptionValues, option: string): string | null => {
  const value = values[option];
  return typeof value === 'string' ? value : null;
};

const texts = (values: OptionValues, option: string): string[] => {
  const value = values[option];
  return Array.isArray(value) ? value : [];
};

/** Without somebody there, a network that is not up yet must not keep a car from being recorded. */
function lanOf(values: OptionValues, unattended: boolean): string | null {
  const asked = text(values, 'lan-address');
  if (values['lan'] !== true && asked === null) return null;
  try {
    return lanAddress(asked);
  } catch (error) {
    if (!unattended) throw error;
    tell(`serves this computer alone for now: ${(error as Error).message}; start it again when the network is there`);
    return null;
  }
}

/** At first, and after each device that came in: the code before is worthless then. */
function showCode(url: string): void {
  answer(`For a tablet or phone in the same network, good once:\n${blocksOf(url)}\n${url}`);
}
