// Habits that nobody should have to remember: what lies at the top level, how
// long files are, that each says why it exists, and names that must not appear.
import { createHash } from 'node:crypto';
import { execFileSync } from 'node:child_process';
import { readFileSync, statSync } from 'node:fs';
import { join } from 'node:path';
import ts from 'typescript';
import { describe, expect, test } from 'vitest';

const root = new URL('../../..', import.meta.url).pathname;
const files = execFileSync('git', ['ls-files', '-co', '--exclude-standard'], {
  cwd: root,
  encoding: 'utf8',
  maxBuffer: 1 << 26,
})
  .split('\n')
  .filter((name) => name !== '' && statSync(join(root, name), { throwIfNoEntry: false })?.isFile());
const sources = files.filter((name) => /^(host|web|firmware|tests)\/.*\.(ts|mjs|c|h|css)$/.test(name));
const read = (name: string) => readFileSync(join(root, name), 'utf8');

const TOP_LEVEL = new Set([
  'README.md',
  'DEVELOPERS.md',
  'CHANGELOG.md',
  'LICENSE',
  'package.json',
  'package-lock.json',
  'tsconfig.json',
  'firmware',
  'host',
  'web',
  'tests',
  'captures',
]);

/** First 16 hex digits of the SHA-256 of each word, so that the words stand nowhere. */
const FORBIDDEN = new Set(
  (
    '8417659f46b5b43b b4ef49fb50c0c07d e714b7d37de7c070 5b75539f8576e725 d254fa846ea7252e 9672a468350920bf ' +
    'b942714f0ecb8e42 5a871fa86152de77 9e48bad6e31c1282 933e3d170e5134b1 c30fcd78d4afb921 32cd958155194791 ' +
    '3ec0b024aac17dcc cbe3cda7c43d5fc7 f148389d080cfe85 9e1c6e68e1c68c9d'
  ).split(' '),
);
const hash = (word: string) => createHash('sha256').update(word).digest('hex').slice(0, 16);

/** Lines of more than so many columns, 1 and up, of which literals take less than half. */
function wideLines(name: string, text: string, columns: number): number[] {
  const lines = text.split('\n');
  const wide = lines.flatMap((line, i) => (line.length > columns ? [i] : []));
  if (wide.length === 0 || !/\.(ts|mjs)$/.test(name)) return wide.map((i) => i + 1);
  const file = ts.createSourceFile(name, text, ts.ScriptTarget.Latest, true);
  const literal = new Map<number, number>();
  const walk = (node: ts.Node): void => {
    const isLiteral = ts.isLiteralExpression(node) || ts.isTemplateExpression(node);
    if (isLiteral) {
      let line = file.getLineAndCharacterOfPosition(node.getStart()).line;
      for (const part of node.getText().split('\n')) literal.set(line, (literal.get(line++) ?? 0) + part.length);
    }
    if (!isLiteral) ts.forEachChild(node, walk);
  };
  walk(file);
  return wide.filter((i) => (literal.get(i) ?? 0) < lines[i]!.trim().length / 2).map((i) => i + 1);
}

describe('files', () => {
  test('only the known entries lie at the top level', () => {
    const found = new Set(files.map((name) => name.split('/')[0]!));
    expect([...found].filter((name) => !TOP_LEVEL.has(name) && !name.startsWith('.'))).toEqual([]);
    expect([...TOP_LEVEL].filter((name) => !found.has(name))).toEqual([]);
  });

  test('no source file of the product is over 400 lines', () => {
    const product = sources.filter((name) => !name.startsWith('tests/'));
    const lines = product.map((name) => ({ name, lines: read(name).split('\n').length }));
    expect(lines.filter((f) => f.lines > 400)).toEqual([]);
  });

  // A sentence stays in one piece, so that a search finds it; nothing else is wider. C is laid out by hand.
  test('no line is over 120 columns, but where literals take half of it', () => {
    const written = sources.filter((name) => !/\.[ch]$/.test(name));
    expect(written.flatMap((name) => wideLines(name, read(name), 120).map((line) => `${name}:${line}`))).toEqual([]);
    expect(wideLines('a.ts', `const a = ${'one + two + '.repeat(12)} 'three';`, 120)).toEqual([1]);
  });

  test('no document outside the project is cited', () => {
    const outside = new RegExp(['DESI' + 'GN(\\.md)?\\b', 'STY' + 'LE\\.md', '\\.\\./sha' + 'red'].join('|'));
    const bad = files.filter((name) => /\.(ts|mjs|c|h|css|md|json)$/.test(name) && outside.test(read(name)));
    expect(bad.filter((name) => name !== 'CHANGELOG.md')).toEqual([]);
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
      readFileSync(join(root, name), 'latin1')
        .split('\n')
        .forEach((line, i) => {
          for (const word of line.toLowerCase().match(/[a-z][a-z0-9]+/g) ?? [])
            if (forbidden(word)) bad.push(`${name}:${i + 1}`);
        });
    }
    expect(bad).toEqual([]);
  });

  test('no path of a machine and no download address is kept', () => {
    const bad = files.filter(
      (name) =>
        /\.(json|ts|mjs|md|yml)$|^\.ci/.test(name) && /(\/root\/|\/home\/|\/work\/main|"resolved":)/.test(read(name)),
    );
    expect(bad.filter((name) => !name.startsWith('tests/unit/tidy/'))).toEqual([]);
  });
});
