// Completion for zsh (its manual, "Completion System", _arguments).

import type { CompletedCommand, CompletedOption, Takes } from './table.ts';

export function zshCompletion(commands: readonly CompletedCommand[], plain: readonly string[]): string {
  const list = commands.map(({ name, about }) => `    ${quoted(`${name}:${about.replaceAll(':', '\\:')}`)}`);
  const cases = commands.map(({ name, options, takes }) => {
    const words = [...options.map(argument), ...(takes === 'nothing' ? [] : [quoted(`1:${action(takes)}`)])];
    return `    ${name}) _arguments ${words.join(' \\\n      ')} ;;`;
  });
  return `#compdef nightdraw
# Completion of nightdraw for zsh, made by 'nightdraw completion zsh'.
_nightdraw() {
  local -a commands
  commands=(
${[...list, ...plain.map((word) => `    ${word}`)].join('\n')}
  )
  if ((CURRENT == 2)); then _describe -t commands command commands; return; fi
  local command=$words[2]
  shift words
  ((CURRENT--))
  case $command in
${cases.join('\n')}
  esac
}
if [[ $funcstack[1] == _nightdraw ]]; then _nightdraw "$@"; else compdef _nightdraw nightdraw; fi
`;
}

function argument({ name, about, several, takes }: CompletedOption): string {
  const meaning = `[${about.replaceAll(/[[\]:\\]/g, (sign) => `\\${sign}`)}]`;
  return quoted(
    `${several ? '*' : ''}--${name}${takes === 'nothing' ? '' : '='}${meaning}${takes === 'nothing' ? '' : `:${action(takes)}`}`,
  );
}

function action(takes: Takes): string {
  if (takes === 'file') return 'file:_files';
  if (takes === 'folder') return 'folder:_files -/';
  return typeof takes === 'string' ? 'value: ' : `value:(${takes.join(' ')})`;
}

const quoted = (text: string) => `'${text.replaceAll("'", "'\\''")}'`;
