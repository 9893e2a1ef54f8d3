// One call of the command line: finds the command, prints its help, and turns every failure
// into one line on stderr with an exit code.

import { COMMANDS } from './all.ts';
import { readArguments, UsageError } from './command.ts';
import { answer, oneLineOf } from './tell.ts';

declare const NIGHTDRAW_VERSION: string;

function overview(): string {
  const lines = ['nightdraw watches what a parked car draws from its battery.', '', 'Commands:'];
  for (const [name, { summary }] of Object.entries(COMMANDS)) lines.push(`  ${name.padEnd(13)}${summary}`);
  lines.push('', "'nightdraw COMMAND --help' tells more; 'nightdraw --version' prints the version.");
  return lines.join('\n');
}

async function called(argv: string[]): Promise<number> {
  const [name, ...rest] = argv;
  if (name === undefined || name === '--help' || name === '-h' || name === 'help') {
    answer(overview());
    return name === undefined ? 2 : 0;
  }
  if (name === '--version') {
    answer(NIGHTDRAW_VERSION);
    return 0;
  }
  const listed = Object.hasOwn(COMMANDS, name) ? COMMANDS[name] : undefined;
  if (listed === undefined) throw new UsageError(`'${name}' is not a command; 'nightdraw --help' lists them`);
  const { command } = await listed.load();
  const { values, positionals } = readArguments(name, command, rest);
  if (values['help'] === true) {
    answer(command.help);
    return 0;
  }
  return command.run(values, positionals);
}

/** One line, whatever was thrown; a stack only where somebody looks for our own mistake. */
function oneLine(error: unknown): string {
  if (process.env['NIGHTDRAW_STACK'] === '1' && error instanceof Error) return error.stack ?? error.message;
  return oneLineOf(error instanceof Error ? error.message : String(error));
}

/** @returns the exit code: 2 for wrong use, 1 for any other failure */
export async function run(argv: string[]): Promise<number> {
  try {
    return await called(argv);
  } catch (error) {
    process.stderr.write(`nightdraw: ${oneLine(error)}\n`);
    return error instanceof UsageError ? 2 : 1;
  }
}
