// What a shell may complete, read from the commands' own tables of options; what an option
// takes and means stands in the command's help, which a test holds against the table.

import type { Listed } from '../command.ts';

/** What follows an option or a command: words of a list, a file, a folder, or what no shell can guess. */
export type Takes = readonly string[] | 'file' | 'folder' | 'text' | 'nothing';

export interface CompletedOption {
  name: string;
  takes: Takes;
  /** May be given several times. */
  several: boolean;
  /** One line from the help; empty where it has none of its own. */
  about: string;
}

export interface CompletedCommand {
  name: string;
  about: string;
  options: CompletedOption[];
  takes: Takes;
}

/** The key of `Command.choices` for what is no option. */
export const PLAIN_WORD = '';

const FOLDERS = /^(FOLDER|DIR)$/;
const FILES = /^(FILE|PATH|IMAGE|[A-Z]+\.csv|X\..*)$/;

export async function completedCommand(name: string, { summary, load }: Listed): Promise<CompletedCommand> {
  const { command } = await load();
  const choices = command.choices ?? {};
  const options = Object.entries(command.options).map(([option, { type, multiple }]): CompletedOption => ({
    name: option,
    about: aboutOf(option, command.help),
    several: multiple === true,
    takes: type === 'boolean' ? 'nothing' : (choices[option] ?? kindOf(option, command.help)),
  }));
  options.push({ name: 'help', about: 'tells more', several: false, takes: 'nothing' });
  return {
    name,
    about: summary,
    options,
    takes: choices[PLAIN_WORD] ?? (command.positionals > 0 ? 'file' : 'nothing'),
  };
}

/** The word in capitals that stands for an option's value in the help, null where there is none. */
export function placeholderOf(option: string, help: string): string | null {
  const found = new RegExp(`--${option}[ =]([A-Za-z][A-Za-z0-9._]*)`).exec(help);
  return found?.[1] ?? null;
}

function kindOf(option: string, help: string): Takes {
  const word = placeholderOf(option, help) ?? '';
  return FOLDERS.test(word) ? 'folder' : FILES.test(word) ? 'file' : 'text';
}

/** The help has two spaces, the option, what stands for its value, and its meaning. */
function aboutOf(option: string, help: string): string {
  const found = new RegExp(`^  --${option}(?: [A-Za-z][A-Za-z0-9._]*)? +([^\\n]+)$`, 'm').exec(help);
  return (found?.[1] ?? '').replace(/[;:,]? *$/, '');
}
