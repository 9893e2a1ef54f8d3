// Habits that nobody should have to remember: what lies at the top level, how
// long files are, that each says why it exists, and names that must not appear.
import { createHash } from 'node:crypto';
import { execFileSync } from 'node:child_process';
import { readFileSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';

const root = new URL('../../..', import.meta.url).pathname;
const files = execFileSync('git', ['ls-files', '-co', '--exclude-standard'], { cwd: root, encoding: 'utf8', maxBuffer: 1 << 26 })
  .split('\n')
  .filter((name) => name !== '' && statSync(join(root, name), { throwIfNoEntry: false })?.isFile());
const sources = files.filter((name) => /^(host|web|firmware|tests)\/.*\.(ts|mjs|c|h|css)$/.test(name));
const read = (name: string) => readFileSync(join(root, name), 'utf8');

const TOP_LEVEL = new Set([
  'README.md', 'DEVELOPERS.md', 'CHANGELOG.md', 'LICENSE', 'package.json', 'package-lock.json', 'tsconfig.json',
  'firmware', 'host', 'web', 'tests', 'captures',
]);

/** First 16 hex digits of the SHA-256 of each word, so that the words stand nowhere. */
const FORBIDDEN = new Set(
  ('8417659f46b5b43b b4ef49fb50c0c07d e714b7d37de7c070 5b75539f8576e725 d254fa846ea7252e 9672a468350920bf ' +
    'b942714f0ecb8e42 5a871fa86152de77 9e48bad6e31c1282 933e3d170e5134b1 c30fcd78d4afb921 32cd958155194791 ' +
    '3ec0b024aac17dcc cbe3cda7c43d5fc7 f148389d080cfe85 9e1c6e68e1c68c9d').split(' '),
);
const hash = (word: string) => createHash('sha256').update(word).digest('hex').slice(0, 16);

describe('files', () => {
  test('only the known entries lie at the top level', () => {
    const found = new Set(files.map((name) => name.split('/')[0]!));
    expect([...found].filter((name) => !TOP_LEVEL.has(name) && !name.startsWith('.'))).toEqual([]);
    expect([...TOP_LEVEL].filter((name) => !found.has(name))).toEqual([]);
  });

  test('no source file is over 400 lines, and few are over 200', () => {
    const lines = sources.map((name) => ({ name, lines: read(name).split('\n').length }));
    expect(lines.filter((f) => f.lines > 400)).toEqual([]);
    const long = lines.filter((f) => f.lines > 200);
    expect(long.length, `over 200 lines: ${long.map((f) => `${f.name} ${f.lines}`).join(', ')}`).toBeLessThan(sources.length / 5);
  });

  test('every source file opens with the reason it exists', () => {
    const bare = sources.filter((name) => !/^(#!.*\n)?\s*(\/\/|\/\*)/.test(read(name)));
    expect(bare).toEqual([]);
  });

  test('no catch-all files', () => {
    expect(files.filter((name) => /(^|\/)(utils?|common|helpers?|misc)(\.|\/|$)/i.test(name))).toEqual([]);
  });

  test('no forbidden name appears', () => {
    const seen = new Map<string, boolean>();
    const forbidden = (word: string) => {
      let hit = seen.get(word);
      if (hit === undefined) seen.set(word, (hit = FORBIDDEN.has(hash(word))));
      return hit;
    };
    const bad: string[] = [];
    for (const name of files) {
      if (statSync(join(root, name)).size > 4 << 20) continue;
      readFileSync(join(root, name), 'latin1').split('\n').forEach((line, i) => {
        for (const word of line.toLowerCase().match(/[a-z][a-z0-9]+/g) ?? []) if (forbidden(word)) bad.push(`${name}:${i + 1}`);
      });
    }
    expect(bad).toEqual([]);
  });

  test('no path of a machine and no download address is kept', () => {
    const bad = files.filter((name) => /\.(json|ts|mjs|md|yml)$|^\.ci/.test(name) && /(\/root\/|\/home\/|\/work\/main|"resolved":)/.test(read(name)));
    expect(bad.filter((name) => !name.startsWith('tests/unit/tidy/'))).toEqual([]);
  });
});
