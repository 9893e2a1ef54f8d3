// Records the example nights anew: the shipped image in the emulated board,
// clamped to a modelled car, recorded by the real `record` command through a
// pseudo-terminal. Run by hand after `npm run build`: node --import tsx captures/make.mjs [NAME ...]
// A night takes about half an hour; it may run beside others. Afterwards its clock
// is set to an evening, and its origin written into it.
import { spawn, spawnSync } from 'node:child_process';
import { existsSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { Database } from '../host/capture/format/sqlite.ts';

const here = fileURLToPath(new URL('.', import.meta.url));
const program = join(here, '../.build/host/main.js');

/** Slow enough for one core to keep up with, so that the board's clock and the host's agree. */
const SPEED = 16;

const NIGHTS = {
  'steady-over': { evening: '2026-11-20T20:52:00Z', car: 'steady', seed: 71, for: '9h', job: 'Example (invented): dead after four days; steady draw' },
  'wakes-often': { evening: '2026-11-23T21:34:00Z', car: 'wakes', seed: 1, for: '9h30m', job: 'Example (invented): dead after a week; something wakes' },
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
  describe(out, night);
  spawnSync(process.execPath, [program, 'analyse', out], { stdio: 'inherit' });
}

/** Moves the wall clock, which is but a label, to the evening; writes down where the night comes from. */
function describe(path, night) {
  const db = new Database(path);
  const info = (key) => JSON.parse(db.prepare('SELECT value FROM info WHERE key = ?').get(key).value);
  const put = (key, value) => db.prepare('INSERT OR REPLACE INTO info (key, value) VALUES (?, ?)').run(key, JSON.stringify(value));
  const later_ms = Date.parse(night.evening) - info('axis_ms');
  const { fw } = JSON.parse(db.prepare('SELECT hello FROM run').get().hello);
  const origin = { what: 'invented example', scenario: night.car, seed: night.seed, firmware: fw, speed: SPEED, clock: 'set to an evening afterwards' };
  db.transaction(() => {
    for (const key of ['axis_ms', 'created_ms']) put(key, info(key) + later_ms);
    put('origin', origin);
    db.prepare('UPDATE run SET began_ms = began_ms + ?').run(later_ms);
  })();
  db.close();
}

const names = process.argv.slice(2);
for (const name of names.length === 0 ? Object.keys(NIGHTS) : names) await make(name);
