// CPU of the whole chain, port to disk, per reading, against the bare serial port
// package with its line parser that only counts lines, on the same board in turn.

import { execFile } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';
import { ScriptedBoard } from '../unit/recorder/scripted-board.ts';
import { median } from './figures.ts';
import type { Figure } from './figures.ts';

const LENGTH_S = 10;
const ROUNDS = 3;

async function cpu_us(mode: 'bare' | 'record', port: string, out: string): Promise<number> {
  const program = new URL('./chain-process.ts', import.meta.url).pathname;
  const { stdout } = await promisify(execFile)(process.execPath, [
    '--import',
    'tsx',
    program,
    mode,
    port,
    out,
    String(LENGTH_S),
  ]);
  return Number(stdout.trim());
}

export async function chainFigures(): Promise<Figure[]> {
  const dir = mkdtempSync(join(tmpdir(), 'nightdraw-chain-'));
  const port = join(dir, 'port');
  // As fast as a board at its own speed sends: 20 windows a second, each by itself.
  const board = new ScriptedBoard({ link: port });
  try {
    const ratios: number[] = [],
      own_us: number[] = [];
    for (let round = 0; round < ROUNDS; round++) {
      const bare = await cpu_us('bare', port, '');
      const whole = await cpu_us('record', port, join(dir, `night${round}`));
      ratios.push(whole / bare);
      own_us.push(whole);
    }
    console.log(`      (the recorder took ${median(own_us).toFixed(0)} µs of CPU a reading)`);
    return [
      {
        name: 'chain_cpu_ratio',
        meaning: 'CPU a reading, port to disk, against the bare port counting lines',
        value: median(ratios),
        unit: 'times',
      },
    ];
  } finally {
    board.stop();
    rmSync(dir, { recursive: true, force: true });
  }
}
