// `serve`: the morning view of a folder of captures, and recordings from it.

import { blocksOf } from '../server/lan/code.ts';
import { lanAddress } from '../server/lan/address.ts';
import { serve } from '../server/serve.ts';
import { optionalNumber } from './command.ts';
import type { Command, OptionValues } from './command.ts';
import { nightOptions } from './night-options.ts';
import { workshopSettings } from './settings-file.ts';
import { PAGE_DIR } from './shipped.ts';
import { stopped, stopSignal } from './stop.ts';
import { tell } from './tell.ts';
import { workbench } from './workbench.ts';

/** A fixed port, so that a bookmark keeps; any free one with --port 0. */
export const DEFAULT_PORT = 4310;

export const command: Command = {
  summary: 'serves the morning view of a folder of captures, and records from it',
  help: `nightdraw serve [--dir FOLDER] [--port N] [--lan] [--settings FILE]

Serves the view on this computer alone and prints its address. Boards can be
recorded from it, several at once. Ctrl-C ends it; what was being recorded then
is kept unfinished, and gone on with when it is served again within 15 minutes.

  --dir FOLDER       folder of captures and CSV files (default: captures)
  --port N           port to listen on, 0 for any free one (default: ${DEFAULT_PORT})
  --settings FILE    workshop's settings (default: nightdraw.json in FOLDER or here)
  --lan              lets a tablet or phone in the same network in: prints a code to
                     scan, good once, and another after each use. What goes over
                     the network is not encrypted: only in a network you trust
  --lan-address IP   this computer's address there, where it has several
  --board-port PATH  a board's port that this computer does not list by itself; may be
                     given several times`,
  options: { dir: { type: 'string' }, port: { type: 'string' }, settings: { type: 'string' }, lan: { type: 'boolean' }, 'lan-address': { type: 'string' }, 'board-port': { type: 'string', multiple: true } },
  positionals: 0,
  async run(values) {
    const port = optionalNumber(values, 'port', 0, 65535, '') ?? DEFAULT_PORT;
    const dir = text(values, 'dir') ?? 'captures';
    const workshop = workshopSettings(text(values, 'settings') ?? undefined, [dir, '.']);
    nightOptions(workshop);
    const signal = stopSignal();
    const lan = lanOf(values);
    const serving = await serve({
      dir, port, workshop, pageDir: PAGE_DIR, bench: workbench(texts(values, 'board-port')),
      ...(lan === null ? {} : { lan, onCode: showCode }), log: tell,
    });
    console.log(`The view is at ${serving.url}  (Ctrl-C ends it)`);
    await stopped(signal);
    await serving.close();
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

function lanOf(values: OptionValues): string | null {
  const asked = text(values, 'lan-address');
  return values['lan'] === true || asked !== null ? lanAddress(asked) : null;
}

/** At first, and after each device that came in: the code before is worthless then. */
function showCode(url: string): void {
  console.log(`For a tablet or phone in the same network, good once:\n${blocksOf(url)}\n${url}`);
}
