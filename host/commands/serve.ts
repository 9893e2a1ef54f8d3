// `serve`: the morning view of a folder of captures.

import { serve } from '../server/serve.ts';
import { optionalNumber } from './command.ts';
import type { Command } from './command.ts';
import { nightOptions } from './night-options.ts';
import { workshopSettings } from './settings-file.ts';
import { PAGE_DIR } from './shipped.ts';
import { stopped, stopSignal } from './stop.ts';

/** A fixed port, so that a bookmark keeps; any free one with --port 0. */
export const DEFAULT_PORT = 4310;

export const command: Command = {
  summary: 'serves the morning view of a folder of captures',
  help: `nightdraw serve [--dir FOLDER] [--port N] [--settings FILE]

Serves the view on this computer alone and prints its address.

  --dir FOLDER      folder of captures and CSV files (default: captures)
  --port N          port to listen on, 0 for any free one (default: ${DEFAULT_PORT})
  --settings FILE   workshop's settings (default: nightdraw.json in FOLDER or here)

Ctrl-C ends it.`,
  options: { dir: { type: 'string' }, port: { type: 'string' }, settings: { type: 'string' } },
  positionals: 0,
  async run(values) {
    const port = optionalNumber(values, 'port', 0, 65535, '') ?? DEFAULT_PORT;
    const dir = typeof values['dir'] === 'string' ? values['dir'] : 'captures';
    const workshop = workshopSettings(typeof values['settings'] === 'string' ? values['settings'] : undefined, [dir, '.']);
    nightOptions(workshop);
    const signal = stopSignal();
    const serving = await serve({ dir, port, workshop, pageDir: PAGE_DIR, log: (line) => process.stderr.write(`nightdraw: ${line}\n`) });
    console.log(`The view is at ${serving.url}  (Ctrl-C ends it)`);
    await stopped(signal);
    await serving.close();
    return 0;
  },
};
