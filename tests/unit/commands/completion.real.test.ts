// Completion in the real shells, over all commands and options; and the help against the tables that it is read from.
import { spawnSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { spawn } from '@lydell/node-pty';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { Command } from '../../../host/commands/command.ts';
import { completedCommand, placeholderOf } from '../../../host/commands/completion/table.ts';
import { COMMANDS } from '../../../host/commands/all.ts';

const program = new URL('../../../.build/host/main.js', import.meta.url).pathname;
const names = Object.keys(COMMANDS);
const commands = new Map<string, Command>();
let folder: string;

const scriptOf = (shell: string) => join(folder, `nightdraw.${shell}`);

beforeAll(async () => {
  for (const name of names) commands.set(name, (await COMMANDS[name]!.load()).command);
  folder = mkdtempSync(join(tmpdir(), 'nightdraw-completion-'));
  for (const shell of ['bash', 'zsh', 'fish']) {
    const { status, stdout, stderr } = spawnSync(process.execPath, [program, 'completion', shell], {
      encoding: 'utf8',
    });
    expect([status, stderr]).toEqual([0, '']);
    writeFileSync(scriptOf(shell), stdout);
  }
  mkdirSync(join(folder, 'here/a-folder'), { recursive: true });
  writeFileSync(join(folder, 'here/a-file.csv'), '');
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** What stands in bash's answer for each line of words, the last of which is completed. */
function inBash(lines: string[][]): string[][] {
  const asked = lines.map(
    (words) =>
      `COMP_WORDS=(nightdraw ${words.map((word) => `'${word}'`).join(' ')}); COMP_CWORD=${words.length}; _nightdraw 2>/dev/null; echo "\${COMPREPLY[*]}"`,
  );
  const { stdout, status } = spawnSync('bash', ['--norc', '-c', `source ${scriptOf('bash')}\n${asked.join('\n')}`], {
    encoding: 'utf8',
  });
  expect(status).toBe(0);
  return stdout
    .split('\n')
    .slice(0, -1)
    .map((line) => line.split(' ').filter((word) => word !== ''));
}

/** Types into a real shell at a terminal until `expected` stands there. */
async function typed(shell: string, args: string[], setUp: string, keys: string, expected: RegExp): Promise<void> {
  const terminal = spawn(shell, args, {
    cwd: join(folder, 'here'),
    cols: 200,
    rows: 40,
    env: { PATH: process.env['PATH'] ?? '', HOME: folder, TERM: 'dumb', PS1: '> ' },
  });
  let said = '';
  // A shell draws and goes back over it as it likes.
  terminal.onData((text: string) => (said = (said + text).replace(/[^\b][\b]/g, '').replace(/ +/g, ' ')));
  const until = async (pattern: RegExp) => {
    for (let i = 0; i < 1500 && !pattern.test(said); i++) await new Promise((resolve) => setTimeout(resolve, 20));
    expect(said).toMatch(pattern);
  };
  try {
    terminal.write(`${setUp}; echo set''up\r`);
    await until(/\nsetup/);
    said = '';
    terminal.write(keys);
    await until(expected);
  } finally {
    terminal.kill('SIGKILL');
  }
}

describe('the tables', () => {
  test('the help names every option, with what stands for its value where it takes one', () => {
    const bad: string[] = [];
    for (const [name, { help, options }] of commands) {
      for (const [option, { type }] of Object.entries(options)) {
        if (!help.includes(`--${option}`)) bad.push(`${name} --${option} is not in its help`);
        else if ((type === 'string') !== (placeholderOf(option, help) !== null))
          bad.push(`${name} --${option}: ${type}, yet '${placeholderOf(option, help)}' in its help`);
      }
    }
    expect(bad).toEqual([]);
  });

  test('an option that takes a file, a folder, words of a list, or nothing', async () => {
    const takes = async (name: string, option: string) =>
      (await completedCommand(name, COMMANDS[name]!)).options.find((found) => found.name === option)!.takes;
    expect(await takes('record', 'out')).toBe('file');
    expect(await takes('serve', 'dir')).toBe('folder');
    expect(await takes('record', 'stream')).toEqual(['windows', 'raw', 'bursts']);
    expect(await takes('report', 'paper')).toEqual(['a4', 'letter']);
    expect(await takes('analyse', 'battery')).toEqual(['flooded', 'agm']);
    expect(await takes('analyse', 'json')).toBe('nothing');
    expect(await takes('record', 'for')).toBe('text');
  });
});

describe('bash', () => {
  test('every command and every option of each', () => {
    const sorted = (words: string[]) => [...words].sort();
    const [first, ...others] = inBash([[''], ...names.map((name) => [name, '--'])]);
    expect(sorted(first!)).toEqual(sorted([...names, 'help', '--help', '--version']));
    names.forEach((name, i) =>
      expect(sorted(others[i]!)).toEqual(
        sorted([...Object.keys(commands.get(name)!.options), 'help'].map((option) => `--${option}`)),
      ),
    );
  });

  test('values: of a list, also behind =, and none that cannot be guessed', () => {
    expect(
      inBash([
        ['record', '--stream', 'r'],
        ['record', '--stream', '=', 'w'],
        ['record', '--stream', '='],
        ['record', '--for', ''],
        ['completion', 'f'],
        ['nonsense', ''],
      ]),
    ).toEqual([['raw'], ['windows'], ['windows', 'raw', 'bursts'], [], ['fish'], []]);
  });

  test('at the Tab key: a command, an option, a file, a folder alone', async () => {
    await typed(
      'bash',
      ['--norc', '-i'],
      `source ${scriptOf('bash')}`,
      'nightdraw ana\t--js\ta-fi\t',
      /nightdraw analyse --json a-file\.csv/,
    );
    await typed(
      'bash',
      ['--norc', '-i'],
      `source ${scriptOf('bash')}`,
      'nightdraw serve --dir a-\t',
      /nightdraw serve --dir a-folder\//,
    );
  });
});

describe('zsh', () => {
  const setUp = () => `autoload -U compinit; compinit -u -D; source ${scriptOf('zsh')}`;
  test('at the Tab key: a command, an option, a word of a list, a file', async () => {
    await typed('zsh', ['-f', '-i'], setUp(), 'nightdraw ana\t--js\ta-fi\t', /nightdraw analyse --json a-file\.csv/);
    await typed('zsh', ['-f', '-i'], setUp(), 'nightdraw record --stre\tr\t', /nightdraw record --stream=raw/);
  });
});

describe('fish', () => {
  const answers = (line: string) => {
    const { stdout, status } = spawnSync(
      'fish',
      ['--no-config', '-c', `source ${scriptOf('fish')}; complete -C '${line}'`],
      { encoding: 'utf8', cwd: join(folder, 'here'), env: { ...process.env, HOME: folder } },
    );
    expect(status).toBe(0);
    return stdout
      .split('\n')
      .slice(0, -1)
      .map((row) => row.split('\t')[0]!);
  };
  test('commands, options, values and files', () => {
    expect(answers('nightdraw ').sort()).toEqual([...names, 'help', '--help', '--version'].sort());
    for (const name of ['record', 'analyse', 'serve'])
      expect(answers(`nightdraw ${name} --`).sort()).toEqual(
        [...Object.keys(commands.get(name)!.options), 'help'].map((option) => `--${option}`).sort(),
      );
    expect(answers('nightdraw record --stream ').sort()).toEqual(['bursts', 'raw', 'windows']);
    expect(answers('nightdraw analyse a-')).toEqual(['a-file.csv', 'a-folder/']);
    expect(answers('nightdraw serve --dir a-')).toEqual(['a-folder/']);
  });
});
