// Records the example nights anew: the shipped image in the emulated board,
// clamped to a modelled car, recorded by the real `record` command through a
// pseudo-terminal. Run by hand after `npm run build`: node captures/make.mjs [NAME ...]
// A night takes about half an hour; it may run beside others.
import { spawn, spawnSync } from 'node:child_process';
import { existsSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';

const here = fileURLToPath(new URL('.', import.meta.url));
const program = join(here, '../.build/host/main.js');

/** Slow enough for one core to keep up with, so that the board's clock and the host's agree. */
const SPEED = 16;

const NIGHTS = {
  'steady-over': { car: 'steady', seed: 1, for: '9h', job: 'Example (invented): dead after four days; steady draw' },
  'wakes-often': { car: 'wakes', seed: 1, for: '9h30m', job: 'Example (invented): dead after a week; something wakes' },
  'quiet-night': { car: 'quiet', seed: 1, for: '8h', job: 'Example (invented): after the repair; healthy car' },
};

async function make(name) {
  const night = NIGHTS[name];
  if (night === undefined) throw new Error(`'${name}' is not one of ${Object.keys(NIGHTS).join(', ')}`);
  const link = join(tmpdir(), `nightdraw-example-${name}`);
  const out = join(here, `${name}.nightdraw`);
  rmSync(out, { force: true });
  const board = spawn(process.execPath, [program, 'emulate', '--link', link, '--car', night.car, '--seed', String(night.seed), '--speed', String(SPEED)], {
    stdio: ['ignore', 'ignore', 'inherit'],
  });
  while (!existsSync(link)) await new Promise((resolve) => setTimeout(resolve, 50));
  const record = spawn(process.execPath, [program, 'record', '--port', link, '--out', out, '--for', night.for, '--job', night.job], { stdio: 'inherit' });
  const code = await new Promise((resolve) => record.on('exit', resolve));
  board.kill('SIGTERM');
  if (code !== 0) throw new Error(`recording ${name} ended with exit code ${code}`);
  spawnSync(process.execPath, [program, 'analyse', out], { stdio: 'inherit' });
}

const names = process.argv.slice(2);
for (const name of names.length === 0 ? Object.keys(NIGHTS) : names) await make(name);
