// The bay in the terminal, from end to end: the built command in a pseudo-terminal, the
// shipped firmware in the emulated board, and the car whose fuses can be pulled.
import { spawn, spawnSync } from 'node:child_process';
import type { ChildProcess } from 'node:child_process';
import { existsSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { readTree } from '../../host/bay/tree/tree-build.ts';
import { wayTo } from '../../host/bay/tree/tree.ts';
import { readWork } from '../../host/bay/work/kept-state.ts';
import { reduceWork } from '../../host/bay/work/work.ts';
import { readBay } from '../../host/capture/store/bay-log.ts';
import { BRIDGE } from '../../host/emulator/car/switched.ts';
import { doAsAsked, HandsFile, program, Terminal } from './bay-terminal.ts';

const SPEED = 8;
const TREE = new URL('../../host/bay/examples/demo-tree.csv', import.meta.url).pathname;
const tree = readTree(readFileSync(TREE, 'utf8')).tree!;
const MINUTES = 180_000;

let folder: string;
let link: string;
let out: string;
let hands: HandsFile;
let board: ChildProcess;
let terminal: Terminal | null = null;

/** What draws too much, and how much; which of them is found first is the plan's affair. */
const PARTS = { 'telematics box': '2\\d\\d mA', 'mirror left': '9\\d mA' };
type Part = keyof typeof PARTS;
let first: Part;
let second: Part;

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'nightdraw-bay-'));
  link = join(folder, 'board');
  out = join(folder, 'car.nightdraw');
  hands = new HandsFile(join(folder, 'hands'));
  board = spawn(
    process.execPath,
    [program, 'emulate', '--link', link, '--car', 'pulls', '--speed', String(SPEED), '--hands', hands.path],
    { stdio: 'ignore' },
  );
  for (let tries = 0; tries < 200 && !existsSync(link); tries++) await pause(50);
});

afterEach(() => {
  terminal?.close();
  terminal = null;
});

afterAll(() => {
  board.kill('SIGTERM');
  rmSync(folder, { recursive: true, force: true });
});

/** Works as asked until something stands on the screen. */
async function work(at: Terminal, until: RegExp): Promise<void> {
  for (const end = Date.now() + MINUTES; !until.test(at.text);) {
    if (Date.now() > end || at.status !== null)
      throw new Error(`${until} did not come; the screen:\n${at.lines.join('\n')}`);
    if (!(await doAsAsked(at, hands, tree))) await pause(50);
  }
}

/** What work that was kept holds for out, and what it asked for last. */
function outIn(state: string): { stillOut: string[]; asked: string } {
  const { session } = reduceWork(readWork(state), { kind: 'resumed' });
  const name = (node: number) => tree.nodes[node]!.name;
  return { stillOut: session.out.map((one) => name(one.node)), asked: name(session.plan[0]!.node) };
}

describe('the bay in a terminal', () => {
  test(
    'prepares, finds the first part, and stops with a fuse out: said and kept',
    async () => {
      terminal = new Terminal(['bay', '--tree', TREE, '--out', out, '--port', link]);
      for (let number = 1; number <= 11; number++) {
        await terminal.until(`item ${number}`, () => terminal!.asked.startsWith(`${number}/11 `));
        if (/^7\/11 Bridge between/.test(terminal.asked)) hands.put(BRIDGE, true);
        if (/^9\/11 Bridge off/.test(terminal.asked)) {
          await pause(2000);
          hands.put(BRIDGE, false);
          await pause(300);
        }
        if (number === 10) await terminal.until('the rise', () => /rose|did not wake|awake at/.test(terminal!.text));
        terminal.type('\r');
      }
      await work(
        terminal,
        new RegExp(
          Object.entries(PARTS)
            .map(([part, mA]) => `${part} draws ${mA}`)
            .join('|'),
        ),
      );
      [first, second] = terminal.text.includes('mirror left draws')
        ? ['mirror left', 'telematics box']
        : ['telematics box', 'mirror left'];
      expect(terminal.text).not.toContain(`${second} draws`);
      terminal.type('q');
      await terminal.ended();
      expect(terminal.status).toBe(0);
      const way = wayTo(tree, tree.nodes.find(({ name }) => name === first)!.id);
      expect(terminal.text).toMatch(new RegExp(`named: ${first} ${PARTS[first]} \\(${way}\\)`));
      expect(terminal.text).toMatch(/still out: .*\. Bridge on, then put them back\./);
      expect(terminal.text).toContain(`to go on: nightdraw bay --out ${out}`);
      const kept = readBay(out)!;
      expect(kept.entries.filter(({ code }) => code === 'prepared')).toHaveLength(11);
      expect(kept.entries.map(({ code }) => code)).toEqual(expect.arrayContaining(['level', 'named', 'left-out']));
      expect(kept.entries.every(({ t_s }, i) => i === 0 || t_s >= kept.entries[i - 1]!.t_s)).toBe(true);
    },
    2 * MINUTES,
  );

  test(
    'killed just after a pull was tapped: the deeds are kept, and it goes on by itself',
    async () => {
      const before = readBay(out)!.entries.length;
      terminal = new Terminal(['bay', '--out', out, '--port', link]);
      for (const end = Date.now() + MINUTES; !/^(Pull|Unplug) /.test(terminal.asked);) {
        if (Date.now() > end) throw new Error(`no pull was asked for; the screen:\n${terminal.lines.join('\n')}`);
        if (!(await doAsAsked(terminal, hands, tree))) await pause(50);
      }
      await doAsAsked(terminal, hands, tree);
      const [said, was] = [readBay(out)!, [...hands.out]];
      terminal.kill();
      await terminal.ended();
      const kept = readBay(out)!;
      expect(kept.entries.length).toBeGreaterThan(before);
      expect(kept.entries.slice(0, said.entries.length)).toEqual(said.entries);
      expect((JSON.parse(kept.state) as { session: { named: unknown[] } }).session.named.length).toBeGreaterThanOrEqual(
        1,
      );
      // What is out at the car is kept as out, or as what was asked for last.
      const { stillOut, asked } = outIn(kept.state);
      for (const name of was) expect([...stillOut, asked]).toContain(name);
    },
    2 * MINUTES,
  );

  test(
    'goes on where it was, finds the second part, and ends with everything back',
    async () => {
      const before = readBay(out)!.entries.length;
      terminal = new Terminal(['bay', '--out', out, '--port', link]);
      await terminal.until('the start', () => terminal!.text.includes('Going on.'));
      await work(terminal, /Found: /);
      await terminal.until('the way back', () => /^Bridge on: /.test(terminal!.asked));
      while (/^(Bridge on: |Put )/.test(terminal.asked)) await doAsAsked(terminal, hands, tree);
      expect([...hands.out]).toEqual([BRIDGE]);
      while (terminal.status === null) {
        const { asked } = terminal;
        terminal.type('\r');
        await terminal.until('the next item', () => terminal!.asked !== asked || terminal!.status !== null);
      }
      await terminal.ended();
      expect(terminal.status).toBe(0);
      expect(terminal.text).toMatch(new RegExp(`${second} ${PARTS[second]}`));
      expect(terminal.text).not.toContain(`${first} draws`);
      expect(terminal.text.slice(terminal.text.indexOf('named: '))).not.toContain('still out');
      const { entries, state } = readBay(out)!;
      expect(entries.length).toBeGreaterThan(before);
      expect(entries.find(({ code }) => code === 'found')!.text).toMatch(
        new RegExp(`${first} ${PARTS[first]}, ${second} ${PARTS[second]}; the rest, \\d+ mA, is within`),
      );
      expect((JSON.parse(state) as { session: { named: unknown[] } }).session.named).toHaveLength(2);
      expect(spawnSync(process.execPath, [program, 'about', out], { encoding: 'utf8' }).status).toBe(0);
    },
    2 * MINUTES,
  );
});
