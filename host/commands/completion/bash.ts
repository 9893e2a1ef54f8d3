// Completion for bash 4.4 or later ("Programmable Completion" in its manual).

import type { CompletedCommand, Takes } from './table.ts';

export function bashCompletion(commands: readonly CompletedCommand[], plain: readonly string[]): string {
  const cases = commands.map(({ name, options, takes }) =>
    [
      `    ${name})`,
      '      case $before in',
      ...options.flatMap((option) =>
        option.takes === 'nothing' ? [] : [`        --${option.name}) ${answer(option.takes)}; return ;;`],
      ),
      '      esac',
      `      if [[ $word == -* ]]; then ${answer(options.map((option) => `--${option.name}`))}; return; fi`,
      `      ${answer(takes)} ;;`,
    ].join('\n'),
  );
  return `# Completion of nightdraw for bash, made by 'nightdraw completion bash'.
_nightdraw_words() {
  compopt +o default +o bashdefault 2>/dev/null
  mapfile -t COMPREPLY < <(compgen -W "$1" -- "$word")
}
_nightdraw_folder() {
  compopt +o default +o bashdefault -o dirnames 2>/dev/null
}
_nightdraw() {
  local word=\${COMP_WORDS[COMP_CWORD]} before=\${COMP_WORDS[COMP_CWORD - 1]}
  # bash takes --out=X for three words.
  if [[ $word == = ]]; then word=
  elif [[ $before == = ]]; then before=\${COMP_WORDS[COMP_CWORD - 2]}; fi
  COMPREPLY=()
  if ((COMP_CWORD == 1)); then _nightdraw_words '${[...commands.map(({ name }) => name), ...plain].join(' ')}'; return; fi
  case \${COMP_WORDS[1]} in
${cases.join('\n')}
    *) _nightdraw_words '' ;;
  esac
}
complete -o bashdefault -o default -F _nightdraw nightdraw
`;
}

/** Files are what bash completes by itself where nothing else is said. */
function answer(takes: Takes): string {
  if (takes === 'file') return ':';
  if (takes === 'folder') return '_nightdraw_folder';
  return `_nightdraw_words '${typeof takes === 'string' ? '' : takes.join(' ')}'`;
}
