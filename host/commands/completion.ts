// `completion`: the words of the command line, for a shell that completes them.

import { bashCompletion } from './completion/bash.ts';
import { fishCompletion } from './completion/fish.ts';
import { completedCommand, PLAIN_WORD } from './completion/table.ts';
import type { CompletedCommand } from './completion/table.ts';
import { zshCompletion } from './completion/zsh.ts';
import { UsageError } from './command.ts';
import type { Command, Listed } from './command.ts';

const SHELLS: Record<string, (commands: readonly CompletedCommand[], plain: readonly string[]) => string> = {
  bash: bashCompletion,
  zsh: zshCompletion,
  fish: fishCompletion,
};

/** Words that stand in the place of a command. */
const PLAIN = ['help', '--help', '--version'];

/** @param commands all of them by name, this one among them */
export function completionOf(commands: Readonly<Record<string, Listed>>): Command {
  return {
    help: `nightdraw completion bash|zsh|fish

Prints what lets the shell complete commands and options at the Tab key:

  bash   nightdraw completion bash > ~/.local/share/bash-completion/completions/nightdraw
         (needs the package bash-completion; or: source <(nightdraw completion bash))
  zsh    nightdraw completion zsh > FOLDER/_nightdraw
         (FOLDER is one of $fpath, and compinit runs after it)
  fish   nightdraw completion fish > ~/.config/fish/completions/nightdraw.fish`,
    options: {},
    choices: { [PLAIN_WORD]: Object.keys(SHELLS) },
    positionals: 1,
    async run(_values, [shell]) {
      const print = Object.hasOwn(SHELLS, shell!) ? SHELLS[shell!]! : null;
      if (print === null) throw new UsageError(`'${shell!}' is none of ${Object.keys(SHELLS).join(', ')}`);
      const all = await Promise.all(Object.entries(commands).map(([name, listed]) => completedCommand(name, listed)));
      process.stdout.write(print(all, PLAIN));
      return 0;
    },
  };
}
