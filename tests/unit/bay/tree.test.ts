// The feed tree against bad files: loops, unknown names, doubles, hostile text. Every
// complaint names its line, and none of them throws.
import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { csvText } from '../../../host/bay/tree/csv-text.ts';
import { readTree } from '../../../host/bay/tree/tree-build.ts';
import { findNode, partCount, wayTo } from '../../../host/bay/tree/tree.ts';

const demo = readFileSync(new URL('../../../host/bay/examples/demo-tree.csv', import.meta.url), 'utf8');
const HEAD = 'box,position,rating,type,feeds\n';

describe('the feed tree', () => {
  test('the example has three levels and no complaint', () => {
    const { tree, complaints } = readTree(demo);
    expect(complaints).toEqual([]);
    expect(wayTo(tree!, findNode(tree!, 'mirror left')!.id)).toBe('L3 > D1 > D9 > mirror left');
  });

  test('parts behind any node are one stretch, and every part is behind some root', () => {
    const tree = readTree(demo).tree!;
    for (const node of tree.nodes) {
      const below = node.children.reduce((sum, child) => sum + partCount(tree, child), node.kind === 'part' ? 1 : 0);
      expect(partCount(tree, node.id), node.name).toBe(below);
    }
    expect(tree.roots.reduce((sum, id) => sum + partCount(tree, id), 0)).toBe(tree.parts.length);
  });

  test("what feeds the airbag is left to the maker's procedure, all the way up", () => {
    const tree = readTree(demo).tree!;
    expect(['airbag unit', 'D6', 'L3', 'D5'].map((name) => findNode(tree, name)!.restricted)).toEqual([
      true,
      true,
      true,
      false,
    ]);
  });

  test('semicolons, tabs, a decimal comma, a byte order mark and Windows line ends read alike', () => {
    const semicolon = readTree('\uFEFFbox;position;rating;type;feeds\r\ndash;F1;7,5;regular;radio, screen\r\n').tree!;
    const tab = readTree('box\tposition\trating\ttype\tfeeds\ndash\tF1\t7.5\tregular\tradio, screen').tree!;
    expect(semicolon.nodes).toEqual(tab.nodes);
    expect(semicolon.nodes[0]!.rating_A).toBe(7.5);
  });

  test('a line that names the delimiter, and lines that end as they did long ago', () => {
    const plain = readTree('box;position;rating;type;feeds\na;F1;10;regular;radio').tree!;
    const lined = readTree('sep=;\r\nbox;position;rating;type;feeds\r\na;F1;10;regular;radio').tree!;
    expect(lined.nodes.map((node) => ({ ...node, line: node.line - 1 }))).toEqual(plain.nodes);
    expect(readTree('box;position;rating;type;feeds\ra;F1;10;regular;radio').tree!.nodes).toEqual(plain.nodes);
  });

  // The bytes by hand: 0xFC is u with two dots in windows-1252, and no UTF-8 (WHATWG Encoding Standard).
  test('the encodings that spreadsheets save in read alike', () => {
    const text = `${HEAD}a,F1,10,regular,T\u00fcrmodul`;
    const oneByte = Uint8Array.from(text, (letter) => letter.charCodeAt(0));
    const wide = Uint8Array.from([
      0xff,
      0xfe,
      ...[...text].flatMap((letter) => [letter.charCodeAt(0) & 255, letter.charCodeAt(0) >> 8]),
    ]);
    for (const bytes of [new TextEncoder().encode(text), new TextEncoder().encode(`\ufeff${text}`), oneByte, wide])
      expect(csvText(bytes)).toBe(text);
  });

  test('one position in two boxes: each has its own name', () => {
    const { tree } = readTree(`${HEAD}dash,F1,10,regular,radio\nboot,F1,10,regular,amplifier`);
    expect(tree!.nodes.filter((node) => node.kind === 'fuse').map((node) => node.name)).toEqual(['dash/F1', 'boot/F1']);
    expect(findNode(tree!, 'F1')).toBeNull();
  });
});

describe('bad files are complained of, by line', () => {
  test.each([
    ['a loop', `${HEAD}a,F1,10,regular,F2\na,F2,10,regular,F1`, 2, /a loop: .*feeds/],
    ['a fuse that feeds itself', `${HEAD}a,F1,10,regular,F1`, 2, /feed itself/],
    [
      'the same position twice',
      `${HEAD}a,F1,10,regular,radio\na,F1,15,regular,horn`,
      3,
      /F1 is there twice; the other one is in line 2/,
    ],
    ['an unknown name', `${HEAD}a,F1,10,regular,F9`, 2, /feeds 'F9', but no row has that position/],
    ['a name listed twice', `${HEAD}a,F1,10,regular,"radio, Radio"`, 2, /lists 'Radio' twice/],
    [
      'one part on two fuses',
      `${HEAD}a,F1,10,regular,radio\na,F2,10,regular,radio`,
      3,
      /'radio' is fed by F1 \(line 2\) and by F2; name the two feeds apart/,
    ],
    [
      'two feeds for one fuse',
      `${HEAD}a,F1,30,regular,F3\na,F2,30,regular,F3\na,F3,10,regular,radio`,
      3,
      /F3 is fed by F1 and by F2/,
    ],
    ['a rating in words', `${HEAD}a,F1,ten,regular,radio`, 2, /'ten' of F1 is not a number/],
    [
      'a rating that cannot be',
      `${HEAD}a,F1,90,regular,radio`,
      2,
      /a regular fuse ends at 40 A; is it large or bolted\?/,
    ],
    ['a type that is none', `${HEAD}a,F1,10,glass,radio`, 2, /'glass' is not a type of fuse/],
    ['an empty position', `${HEAD}a,,10,regular,radio`, 2, /the position is empty/],
    [
      'feeds spread over cells',
      `${HEAD}a,F1,10,regular,radio,lamp,horn`,
      2,
      /'lamp', 'horn' stand past the last column; write all that a fuse feeds into one cell/,
    ],
    ['a quote that stays open', `${HEAD}a,F1,10,regular,"radio`, 2, /a quote is opened and not closed/],
    ['a column that is missing', 'box,position,rating\na,F1,10', 1, /no column 'feeds'/],
    ['nothing at all', '', 1, /holds no rows/],
    ['a picture instead of a table', '\u0089PNG\r\n\u001a\n\u0000\u0000', 1, /no column/],
    ['a megabyte of commas', ','.repeat(1_000_001), 1, /is no list of fuses/],
    [
      'ten thousand rows',
      HEAD + Array.from({ length: 10_000 }, (_, i) => `a,F${i},10,regular,x${i}`).join('\n'),
      1,
      /2000 rows are the most/,
    ],
  ])('%s', (_, text, line, expected) => {
    const { tree, complaints } = readTree(text);
    expect(tree).toBeNull();
    const match = complaints.find((one) => expected.test(one.text));
    expect(match, complaints.map((one) => one.text).join('; ')).toBeDefined();
    expect(match!.line).toBe(line);
  });

  test('a chain of 2000 fuses is read without running out of stack', () => {
    const rows = Array.from({ length: 2000 }, (_, i) => `a,F${i},10,regular,${i === 1999 ? 'radio' : `F${i + 1}`}`);
    expect(readTree(HEAD + rows.join('\n')).tree!.parts).toHaveLength(1);
  });

  test('names that belong to every object are plain names here', () => {
    const { tree } = readTree(`${HEAD}a,constructor,10,regular,"__proto__, toString"`);
    expect(tree!.nodes.map((node) => node.name)).toEqual(['constructor', '__proto__', 'toString']);
  });

  test('names that differ by a dash alone get a warning, not a refusal', () => {
    const { tree, warnings } = readTree(`${HEAD}a,F1,10,regular,door-module\na,F2,10,regular,door module`);
    expect(tree).not.toBeNull();
    expect(warnings[0]!.text).toMatch(/spelt almost alike/);
  });
});
