// Somebody at a terminal who runs `nightdraw bay`, reads what it says and does it at the
// modelled car: pulls by writing the file of hands, and types keys.
import { spawn } from 'node:child_process';
import type { ChildProcess } from 'node:child_process';
import { closeSync, openSync, writeFileSync } from 'node:fs';
import { setTimeout as pause } from 'node:timers/promises';
import { fuseResistance } from '../../host/bay/tree/fuses.ts';
import type { FeedTree, TreeNode } from '../../host/bay/tree/tree.ts';
import { called } from '../../host/bay/tree/tree.ts';
import { PULLS } from '../../host/emulator/car/scenarios/pulls.ts';
import { BRIDGE } from '../../host/emulator/car/switched.ts';
import { PseudoTerminal } from '../../host/emulator/pseudo-terminal.ts';

export const program = new URL('../../.build/host/main.js', import.meta.url).pathname;

/** What is out at the modelled car. */
export class HandsFile {
  readonly out = new Set<string>();
  constructor(readonly path: string) {
    this.write();
  }

  put(name: string, out: boolean): void {
    if (out) this.out.add(name);
    else this.out.delete(name);
    this.write();
  }

  private write(): void {
    writeFileSync(this.path, [...this.out].join('\n'));
  }

  /** Through a fuse of the car as it is now. */
  through_mA(node: TreeNode): number {
    return PULLS.parts.reduce(
      (sum, part) =>
        sum +
        (part.behind.includes(node.name) && !this.out.has(part.name) && !part.behind.some((name) => this.out.has(name))
          ? part.mA
          : 0),
      0,
    );
  }
}

export class Terminal {
  text = '';
  status: number | null = null;
  private readonly pty = new PseudoTerminal();
  private readonly child: ChildProcess;
  private readonly timer: NodeJS.Timeout;

  constructor(args: string[]) {
    const end = openSync(this.pty.path, 'r+');
    this.child = spawn(process.execPath, [program, ...args], { stdio: [end, end, end] });
    closeSync(end);
    this.timer = setInterval(() => (this.text += this.pty.receive().toString('utf8')), 20);
    this.child.on('exit', (code) => (this.status = code ?? -1));
  }

  type(keys: string): void {
    this.pty.send(Buffer.from(keys));
  }

  /** All that stays on the screen: without the line that is written over. */
  get lines(): string[] {
    return this.text.split(/\r?\n/).map((line) => line.split('\r\u001b[K').at(-1)!.replaceAll('\u0007', ''));
  }

  /** The last thing that was asked for, its lines joined. */
  get asked(): string {
    const lines = this.lines;
    const from = lines.findLastIndex((line) => line.startsWith('> '));
    if (from < 0) return '';
    const rest = lines
      .slice(from + 1)
      .findIndex((line) => !line.startsWith('  ') || line.startsWith('  !') || line.startsWith('  ['));
    return [
      lines[from]!.slice(2),
      ...lines.slice(from + 1, rest < 0 ? undefined : from + 1 + rest).map((line) => line.trim()),
    ].join(' ');
  }

  /** @throws Error with the screen where it does not come to that */
  async until(what: string, holds: () => boolean, within_ms = 120_000): Promise<void> {
    for (const end = Date.now() + within_ms; !holds(); await pause(30)) {
      if (Date.now() > end) throw new Error(`${what} did not come; the screen:\n${this.lines.join('\n')}`);
    }
    if (this.status === null) return;
    await pause(100);
    this.text += this.pty.receive().toString('utf8');
  }

  async ended(): Promise<void> {
    await this.until('the end', () => this.status !== null);
    await pause(100);
  }

  /** As a power cut does it. */
  kill(): void {
    this.child.kill('SIGKILL');
  }

  close(): void {
    clearInterval(this.timer);
    this.child.kill('SIGKILL');
    this.pty.close();
  }
}

/** What somebody does who is asked so: something with a hand, or an answer that is typed. */
export type Deed = { hand: string; out: boolean } | { answer: string };

/** Null where nothing is to be done but wait. */
export function deedFor(asked: string, hands: HandsFile, tree: FeedTree): Deed | null {
  const node = tree.nodes.find(
    ({ id }) =>
      asked.includes(`${called(tree, id)} `) ||
      asked.includes(`${called(tree, id)}.`) ||
      asked.includes(`${called(tree, id)},`) ||
      asked.includes(`${called(tree, id)}:`),
  );
  if (/^Bridge on: /.test(asked)) return { hand: BRIDGE, out: true };
  if (/^Bridge off\./.test(asked)) return { hand: BRIDGE, out: false };
  if (/^Put .* in again\./.test(asked)) return { hand: node!.name, out: false };
  if (/^(Pull|Unplug) /.test(asked)) return { hand: node!.name, out: true };
  if (/^(Read|Only if .* read) the voltage across /.test(asked))
    return {
      answer: ((hands.through_mA(node!) / 1000) * fuseResistance(node!.type, node!.rating_A)!.resistance_mOhm).toFixed(
        1,
      ),
    };
  if (/among it\?$/.test(asked)) return { answer: 'n' };
  if (/come out only then/.test(asked)) return { answer: 'n' };
  if (/Was that /.test(asked)) return { answer: hands.out.has(node!.name) ? 'y' : 'n' };
  if (/really in again\?/.test(asked)) return { answer: hands.out.has(node!.name) ? 'n' : 'y' };
  return null;
}

/** So often a hand presses what is not taken. */
const PRESSES_MAX = 20;

/** Does what is asked for, once; `true` where something was done. */
export async function doAsAsked(terminal: Terminal, hands: HandsFile, tree: FeedTree): Promise<boolean> {
  const { asked } = terminal;
  const deed = deedFor(asked, hands, tree);
  if (deed === null) return false;
  if ('hand' in deed) {
    hands.put(deed.hand, deed.out);
    // The car looks at its hands every tenth of a second of its time, and the session takes a second tap within 1.5 s
    // of it for the first: who sees that nothing came of it presses once more, however slow this computer is.
    for (let presses = 0; presses < PRESSES_MAX && terminal.asked === asked && terminal.status === null; presses++) {
      await pause(300);
      if (terminal.asked === asked) terminal.type('\r');
      for (const end = Date.now() + 1000; Date.now() < end && terminal.asked === asked;) await pause(30);
    }
  } else terminal.type(/^[yn]$/.test(deed.answer) ? deed.answer : `${deed.answer}\r`);
  await terminal.until('the next thing', () => terminal.asked !== asked || terminal.status !== null);
  return true;
}
