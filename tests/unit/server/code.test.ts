// The code to scan, read by a program that is not ours (zbarimg): the picture of the page,
// and the blocks of the terminal turned back into one.
import { Resvg } from '@resvg/resvg-js';
import { execFile } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { blocksOf, modulesOf, svgOf } from '../../../host/server/lan/code.ts';

/** What stands on the screen: the shortest and the longest address of IPv4, and a code of 22 letters. */
const URLS = [
  'http://10.0.0.2:80/enter#aaaaaaaaaaaaaaaaaaaaaa',
  'http://192.168.100.200:65535/enter#Zz9-_b8QkLmN0pQrStUvWx',
];

let folder: string;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'nightdraw-code-'));
});
afterAll(() => rmSync(folder, { recursive: true }));

/** What a scanner reads in a picture, which gets no margin beyond its own. */
async function scanned(svg: string): Promise<string> {
  const file = join(folder, 'code.png');
  writeFileSync(file, new Resvg(svg, { fitTo: { mode: 'zoom', value: 4 } }).render().asPng());
  const { stdout } = await promisify(execFile)('zbarimg', ['--raw', '-q', file]);
  return stdout.trimEnd();
}

test.each(URLS)('the picture is read as %s', async (url) => {
  expect(await scanned(svgOf(url))).toBe(url);
});

/** Modules of each block, upper and lower. */
const HALVES: Record<string, [boolean, boolean]> = {
  ' ': [false, false],
  '▀': [true, false],
  '▄': [false, true],
  '█': [true, true],
};

/**
 * The terminal's blocks as rows of modules, with what is blank around them. @throws Error at a character that is no
 * block
 */
function rowsOf(blocks: string): boolean[][] {
  return blocks.split('\n').flatMap((line) => {
    // Black on bright white (ECMA-48, SGR), to the end of the line and no further.
    const inside = /^\u001b\[30;107m(.*)\u001b\[0m$/.exec(line)![1]!;
    const halves = [...inside].map((block) => HALVES[block] ?? expect.fail(`no block: ${block}`));
    return [halves.map(([upper]) => upper), halves.map(([, lower]) => lower)];
  });
}

function drawn(rows: boolean[][]): string {
  const squares = rows.flatMap((row, y) => row.flatMap((dark, x) => (dark ? [`M${x} ${y}h1v1h-1z`] : [])));
  return `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${rows[0]!.length} ${rows.length}" shape-rendering="crispEdges"><path fill="#fff" d="M0 0h999v999H0z"/><path d="${squares.join('')}"/></svg>`;
}

test.each(URLS)('the blocks of the terminal are read as %s', async (url) => {
  expect(await scanned(drawn(rowsOf(blocksOf(url))))).toBe(url);
});

test.each(URLS)('four blank modules around it in the picture and in the terminal, for %s', (url) => {
  const modules = modulesOf(url);
  const rows = rowsOf(blocksOf(url));
  // Two rows in a line: where their number is odd the last has one more.
  expect([rows.length, new Set(rows.map((row) => row.length))]).toEqual([
    modules.length + 9,
    new Set([modules.length + 8]),
  ]);
  const dark = rows.flatMap((row, y) => row.flatMap((is, x) => (is ? [[x, y] as const] : [])));
  const ends = (place: 0 | 1) => [Math.min(...dark.map((at) => at[place])), Math.max(...dark.map((at) => at[place]))];
  expect([ends(0), ends(1)]).toEqual([
    [4, modules.length + 3],
    [4, modules.length + 3],
  ]);
  expect(svgOf(url)).toContain(`viewBox="0 0 ${modules.length + 8} ${modules.length + 8}"`);
  expect(svgOf(url)).toContain(`<path fill="#fff" d="M0 0h${modules.length + 8}v`);
});
