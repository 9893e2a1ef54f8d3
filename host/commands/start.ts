// `start`: for the first minutes with nightdraw: the example nights in the view,
// and an emulated board that can be recorded live beside it.

import { spawn } from 'node:child_process';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { serve } from '../server/serve.ts';
import { optionalNumber } from './command.ts';
import type { Command } from './command.ts';
import { reportsInThreads } from './reports.ts';
import { DEFAULT_PORT } from './serve.ts';
import { answer, tell } from './tell.ts';
import { EXAMPLES_DIR, PAGE_DIR } from './shipped.ts';
import { stopped, stopSignal } from './stop.ts';
import { hostClock } from './host-clock.ts';
import { thisComputer } from './this-computer.ts';
import { workbench } from './workbench.ts';

export const command: Command = {
  help: `nightdraw start [--port N]

Serves the view of the example nights on this computer alone, prints its
address, and runs an emulated board that can be recorded live.

  --port N   port to listen on (default: ${DEFAULT_PORT}, or any free one where that is taken)

Ctrl-C ends it.`,
  options: { port: { type: 'string' } },
  positionals: 0,
  async run(values) {
    const asked = optionalNumber(values, 'port', 0, 65535, '');
    const signal = stopSignal();
    const link = join(tmpdir(), `nightdraw-board-${process.pid}`);
    const board = spawn(
      process.execPath,
      [fileURLToPath(new URL('main.js', import.meta.url)), 'emulate', '--link', link],
      {
        stdio: ['ignore', 'ignore', 'inherit'],
      },
    );
    const serving = await serveExamples(asked, link);
    answer(`The view is at ${serving.url}  (Ctrl-C ends it)`);
    answer(
      `An emulated board is at ${link}. To record it from the view, look for boards there; or in another terminal:`,
    );
    answer(`  npm run -s nightdraw -- record --port ${link} --out captures/tonight.nightdraw --for 60s`);
    await stopped(signal);
    board.kill('SIGTERM');
    await serving.close();
    return 0;
  },
};

declare const NIGHTDRAW_VERSION: string;

/** The usual port, or any free one where that is taken and none was asked for. */
async function serveExamples(asked: number | undefined, boardPort: string): ReturnType<typeof serve> {
  const options = {
    dir: EXAMPLES_DIR,
    software: NIGHTDRAW_VERSION,
    pageDir: PAGE_DIR,
    bench: workbench(thisComputer, [boardPort]),
    makeReport: reportsInThreads({}, [EXAMPLES_DIR]),
    clock: hostClock,
    log: tell,
  };
  if (asked !== undefined) return serve({ ...options, port: asked });
  try {
    return await serve({ ...options, port: DEFAULT_PORT });
  } catch (error) {
    if (error instanceof Error && error.message.includes('is in use')) return serve({ ...options, port: 0 });
    throw error;
  }
}
