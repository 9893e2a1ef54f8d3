// All texts of the program that a person may read: the literals of host and page that hold at
// least two words. `node --import tsx tests/unit/say/strings.ts` prints them with their places.
import { execFileSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import ts from 'typescript';

const root = new URL('../../..', import.meta.url).pathname;

export interface Said {
  at: string;
  text: string;
}

/** Without the expressions in templates, which stand as `…`. */
export function saidStrings(): Said[] {
  const names = execFileSync('git', ['ls-files', '-co', '--exclude-standard', 'host', 'web'], {
    cwd: root,
    encoding: 'utf8',
  });
  return names
    .split('\n')
    .filter((name) => name.endsWith('.ts'))
    .flatMap((name) => stringsIn(name, readFileSync(join(root, name), 'utf8')));
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

if (process.argv[1] === new URL(import.meta.url).pathname)
  for (const { at, text } of saidStrings()) console.log(`${at}\t${text.replaceAll('\n', '\\n')}`);
