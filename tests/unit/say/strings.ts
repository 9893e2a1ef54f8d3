// All texts of the program that a person may read: the literals of host and page that hold at
// least two words. `node --import tsx tests/unit/say/strings.ts` prints them with their places;
// with a revision behind it, all that were changed since: the old text beside the new one.
import { execFileSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import ts from 'typescript';

const root = new URL('../../..', import.meta.url).pathname;

export interface Said {
  at: string;
  text: string;
}

const git = (...args: string[]) => execFileSync('git', args, { cwd: root, encoding: 'utf8', maxBuffer: 2 ** 28 });
const sources = (names: string) => names.split('\n').filter((name) => name.endsWith('.ts'));

/** Without the expressions in templates, which stand as `…`. */
export function saidStrings(): Said[] {
  return sources(git('ls-files', '-co', '--exclude-standard', 'host', 'web')).flatMap((name) =>
    stringsIn(name, readFileSync(join(root, name), 'utf8')),
  );
}

/** As `saidStrings`, of an earlier revision. */
const saidThen = (revision: string): Said[] =>
  sources(git('ls-tree', '-r', '--name-only', revision, 'host', 'web')).flatMap((name) =>
    stringsIn(name, git('show', `${revision}:${name}`)),
  );

const wordsOf = (text: string) => new Set(text.toLowerCase().match(/[\p{L}\d]+/gu) ?? []);

/** Share of the words of both that they have in common. */
function likeness(a: Set<string>, b: Set<string>): number {
  const shared = [...a].filter((word) => b.has(word)).length;
  return shared / (a.size + b.size - shared || 1);
}

/** Every text that is gone or new, the old one with its likest new one; null where there is none. O(gone x new). */
function changedTexts(then: Said[], now: Said[]): { old: Said | null; now: Said | null }[] {
  const missing = (from: Said[], other: Said[]) => {
    const known = new Set(other.map(({ text }) => text));
    return from.filter(({ text }) => !known.has(text)).map((said) => ({ said, words: wordsOf(said.text) }));
  };
  const added = missing(now, then);
  const taken = new Set<Said>();
  const pairs = missing(then, now).map(({ said, words }) => {
    const likest = added
      .filter((one) => !taken.has(one.said))
      .map((one) => ({ one, like: likeness(words, one.words) }))
      .reduce<{ one: (typeof added)[number]; like: number } | null>(
        (a, b) => (a !== null && a.like >= b.like ? a : b),
        null,
      );
    if (likest === null || likest.like < 0.35) return { old: said, now: null };
    taken.add(likest.one.said);
    return { old: said, now: likest.one.said };
  });
  return [...pairs, ...added.filter(({ said }) => !taken.has(said)).map(({ said }) => ({ old: null, now: said }))];
}

export function stringsIn(name: string, text: string): Said[] {
  const file = ts.createSourceFile(name, text, ts.ScriptTarget.Latest, true);
  const found: Said[] = [];
  const visit = (node: ts.Node): void => {
    if (ts.isImportDeclaration(node) || ts.isExportDeclaration(node) || ts.isLiteralTypeNode(node)) return;
    const said = ts.isStringLiteralLike(node)
      ? node.text
      : ts.isTemplateExpression(node)
        ? node.head.text + node.templateSpans.map((span) => `…${span.literal.text}`).join('')
        : null;
    if (said !== null && /[a-z]{2,}[ ,;:.…]+[a-z]{2,}/i.test(said)) {
      const line = file.getLineAndCharacterOfPosition(node.getStart()).line + 1;
      found.push({ at: `${name}:${line}`, text: said });
    }
    ts.forEachChild(node, visit);
  };
  visit(file);
  return found;
}

if (process.argv[1] === new URL(import.meta.url).pathname) {
  const line = (said: Said | null) => (said === null ? '' : `${said.at}\t${said.text.replaceAll('\n', '\\n')}`);
  const revision = process.argv[2];
  if (revision === undefined) for (const said of saidStrings()) console.log(line(said));
  else
    for (const { old, now } of changedTexts(saidThen(revision), saidStrings()))
      console.log(`- ${line(old)}\n+ ${line(now)}\n`);
}
