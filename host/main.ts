// The program: hands the words of the command line to the command, and its code to the shell.

import { run } from './commands/run.ts';

// A reader that goes away (`nightdraw analyse X | head -1`) is no fault of the command.
process.stdout.on('error', (error: NodeJS.ErrnoException) => {
  process.exit(error.code === 'EPIPE' ? 0 : 1);
});

process.exitCode = await run(process.argv.slice(2));
