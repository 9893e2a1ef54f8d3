// The disk under a recording: really full, read-only, gone, or emptied by somebody.
// A small disk of its own is mounted for it, which takes root.
import { execFileSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, readdirSync, readFileSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { carOf } from '../board-run.ts';
import { fill, mount, MOUNTS, unmount } from '../../small-disk.ts';
import { judge } from './ledger.ts';
import { RecordCommand } from './record-command.ts';
import { TamperedBoard } from './tampered-board.ts';

let folder: string;
let disk: string;
let board: TamperedBoard;
let recorder: RecordCommand | null;

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'nightdraw-disk-'));
  disk = join(folder, 'disk');
  mkdirSync(disk);
  if (MOUNTS) mount(disk);
  board = new TamperedBoard({
    link: join(folder, 'port'),
    car: carOf([{ name: 'load', awake: [], asleep_mA: 120 }]),
    seed: 3,
    random: () => 0.5,
  });
  recorder = null;
});

afterEach(async () => {
  if (recorder !== null && !recorder.over) await recorder.kill();
  board.stop();
  if (MOUNTS) unmount(disk);
  rmSync(folder, { recursive: true, force: true });
});

const out = () => join(disk, 'night');

function launch(): RecordCommand {
  return (recorder = new RecordCommand({ port: join(folder, 'port'), out: out() }));
}

async function until(condition: () => boolean, what: string): Promise<void> {
  for (let i = 0; i < 6000; i++) {
    if (condition()) return;
    await pause(10);
  }
  throw new Error(`waited 60 s for: ${what}; the recorder said: ${recorder?.notes.join(' | ')}`);
}

async function recording(seconds = 1): Promise<RecordCommand> {
  const started = launch();
  await until(() => started.acknowledged_s >= seconds || started.over, `${seconds} s recorded`);
  expect(started.over, started.said).toBe(false);
  return started;
}

function holds(seconds: number): void {
  const verdict = judge(out(), board.sent, [], board.board.car);
  expect(verdict.problems).toEqual([]);
  expect(verdict.end_s).toBeGreaterThanOrEqual(seconds - 0.05);
}

describe.runIf(MOUNTS)('a small disk', () => {
  test('really full: it ends with one line, what was acknowledged opens at once, and it goes on when there is room', async () => {
    const full = await recording();
    const filler = fill(disk, 0);
    await until(() => full.over, 'the end');
    expect(full.code).toBe(1);
    // Whichever comes first: the disk that refuses (its own test is the recorder's), or the look at what is left.
    expect(full.notes.at(-1)).toMatch(
      /cannot grow: the disk is full; what was shown as recorded is kept|recording ended: 0 MB are left/,
    );
    holds(full.acknowledged_s);
    rmSync(filler);
    const again = await recording(3);
    await again.stop();
    expect(again.printed).toMatch(/recorded, resumed/);
    holds(again.acknowledged_s);
    expect(readdirSync(disk)).toEqual(['night']);
  });

  test('nearly full: it ends by itself, and can be gone on with', async () => {
    const watched = await recording();
    const filler = fill(disk, 5e6);
    await until(() => watched.over, 'the end');
    expect(watched.code).toBe(1);
    expect(watched.notes.at(-1)).toMatch(
      /recording ended: 5 MB are left on the disk of .*; all that was recorded is in it; free some space/,
    );
    holds(watched.acknowledged_s);
    expect(readdirSync(disk).sort()).toEqual(['filler', 'night']);
    const refused = launch();
    await until(() => refused.over, 'a refusal');
    expect(refused.notes.at(-1)).toMatch(/cannot be recorded: 5 MB are free on its disk, and 8 MB are the least/);
    rmSync(filler);
    const again = await recording(3);
    expect(again.notes.join(' ')).toMatch(/2\d MB are free on the disk of .*: enough for about [6-8]\.\d h/);
    await again.stop();
    holds(again.acknowledged_s);
  });

  test('read-only after a kill: what was acknowledged opens all the same, recording is refused, and goes on when it may', async () => {
    const cut = await recording(2);
    await cut.kill();
    execFileSync('mount', ['-o', 'remount,ro', disk]);
    holds(cut.acknowledged_s);
    const refused = launch();
    await until(() => refused.over, 'a refusal');
    expect(refused.code).toBe(1);
    expect(refused.notes.at(-1)).toMatch(/cannot be written .*may be written to/);
    execFileSync('mount', ['-o', 'remount,rw', disk]);
    const again = await recording(3);
    await again.stop();
    expect(again.code).toBe(0);
    holds(again.acknowledged_s);
  });
});

describe('the file', () => {
  test('deleted under it: it is put back with all that was recorded', async () => {
    const lively = await recording();
    for (const name of readdirSync(disk).filter((entry) => entry.startsWith('night'))) rmSync(join(disk, name));
    await until(
      () => lively.notes.some((note) => /was deleted while it was recorded; it is back/.test(note)),
      'a note',
    );
    const { acknowledged_s } = lively;
    await until(() => lively.acknowledged_s > acknowledged_s, 'more');
    const said_s = lively.acknowledged_s;
    await lively.kill();
    holds(said_s);
    const again = await recording(said_s + 1);
    await again.stop();
    expect(again.code).toBe(0);
    expect(readdirSync(disk)).toEqual(['night']);
  });

  test('its log deleted alone: nothing acknowledged is lost by a kill', async () => {
    const lively = await recording();
    rmSync(`${out()}-wal`);
    const { acknowledged_s } = lively;
    await until(() => lively.acknowledged_s > acknowledged_s + 1, 'more');
    const said_s = lively.acknowledged_s;
    await lively.kill();
    holds(said_s);
  });

  test('replaced by another: the other is left alone, the recording saved and named', async () => {
    const lively = await recording();
    writeFileSync(join(disk, 'other'), 'Dear reader');
    renameSync(join(disk, 'other'), out());
    await until(() => lively.over, 'the end');
    expect(lively.code).toBe(1);
    const saved = /was replaced by another file while it was recorded; the recording is saved in (\S+)/.exec(
      lively.notes.at(-1)!,
    )![1]!;
    expect(readFileSync(out(), 'utf8')).toBe('Dear reader');
    expect(judge(saved, board.sent, [], board.board.car)).toMatchObject({ problems: [] });
    expect(judge(saved, board.sent, [], board.board.car).end_s).toBeGreaterThanOrEqual(lively.acknowledged_s - 0.05);
  });

  test('its whole folder deleted: saved elsewhere and named', async () => {
    const inner = join(disk, 'inner');
    mkdirSync(inner);
    const lively = (recorder = new RecordCommand({ port: join(folder, 'port'), out: join(inner, 'night') }));
    await until(() => lively.acknowledged_s >= 1, '1 s recorded');
    rmSync(inner, { recursive: true });
    await until(() => lively.over, 'the end');
    expect(lively.code).toBe(1);
    const saved = /was deleted while it was recorded and cannot be put back .*; the recording is saved in (\S+)/.exec(
      lively.notes.at(-1)!,
    )![1]!;
    const { problems, end_s } = judge(saved, board.sent, [], board.board.car);
    expect(problems).toEqual([]);
    expect(end_s).toBeGreaterThanOrEqual(lively.acknowledged_s - 0.05);
    rmSync(saved);
  });
});
