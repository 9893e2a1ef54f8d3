// Completion for fish 3 (its manual, command `complete`).

import type { CompletedCommand, Takes } from './table.ts';

export function fishCompletion(commands: readonly CompletedCommand[], plain: readonly string[]): string {
  const first = '-n __fish_use_subcommand';
  const lines = [
    "# Completion of nightdraw for fish, made by 'nightdraw completion fish'.",
    'complete -c nightdraw -e',
    'complete -c nightdraw -f',
    ...plain.map((word) => `complete -c nightdraw ${first} -a ${word}`),
  ];
  for (const { name, about, options, takes } of commands) {
    lines.push(`complete -c nightdraw ${first} -a ${name} -d ${quoted(about)}`);
    const within = `-n '__fish_seen_subcommand_from ${name}'`;
    for (const option of options) {
      lines.push(
        `complete -c nightdraw ${within} -l ${option.name}${action(option.takes)}${option.about === '' ? '' : ` -d ${quoted(option.about)}`}`,
      );
    }
    if (takes !== 'nothing')
      lines.push(`complete -c nightdraw ${within}${takes === 'file' ? ' -F' : action(takes).replace(' -x', '')}`);
  }
  return `${lines.join('\n')}\n`;
}

function action(takes: Takes): string {
  if (takes === 'nothing') return '';
  if (takes === 'file') return ' -r -F';
  if (takes === 'folder') return " -x -a '(__fish_complete_directories)'";
  return typeof takes === 'string' ? ' -x' : ` -x -a ${quoted(takes.join(' '))}`;
}

const quoted = (text: string) => `'${text.replaceAll('\\', '\\\\').replaceAll("'", "\\'")}'`;
