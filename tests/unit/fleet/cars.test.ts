// All nights by car: the same figures from the server's index as from SQL over the Parquet tree,
// nights of one car together, and nobody's plate in the index.
import { DuckDBInstance } from '@duckdb/node-api';
import { mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { importCsv } from '../../../host/capture/exchange/csv.ts';
import { setDetails } from '../../../host/capture/store/edit.ts';
import { carKey } from '../../../host/commands/car-key.ts';
import { fleetAnswer } from '../../../host/contract/api.ts';
import type { Fleet } from '../../../host/contract/api.ts';
import { carOf } from '../../../host/server/shelf/car.ts';
import { nightdraw } from '../../in-process.ts';
import { Stage } from '../server/stage.ts';

const stage = new Stage();
const root = mkdtempSync(join(tmpdir(), 'nightdraw-cars-'));
const tree = join(root, 'tree');
/** Per night: whose it is, its day, its level and how often it wakes; a level above 200 never sleeps. */
const NIGHTS: [plate: string, day: number, level_mA: number, wakes: number, hours: number][] = [
  ['AB 12', 1, 80, 0, 3],
  ['AB 12', 5, 30, 3, 3],
  ['ab-12', 9, 12, 0, 3],
  ['CD 34', 2, 61, 2, 3],
  ['CD 34', 3, 55, 5, 3],
  ['EF 56', 4, 20, 0, 0.5],
  ['EF 56', 6, 24, 1, 3],
  ['GH 78', 7, 18, 0, 0.4],
];

function csv(day: number, level_mA: number, wakes: number, hours: number): string {
  const begin_ms = Date.UTC(2031, 2, day, 20);
  const rows = Array.from({ length: hours * 720 }, (_, i) => {
    const asleep = i > 60;
    const woken = asleep && wakes > 0 && i % Math.floor((hours * 720) / (wakes + 1)) < 6 && i > 100;
    return `${new Date(begin_ms + i * 5000).toISOString()},${(asleep ? level_mA : 900) + (woken ? 400 : 0) + (i % 3) / 10}`;
  });
  return ['time,current_mA', ...rows].join('\n');
}

let fleet: Fleet;
beforeAll(async () => {
  for (const [n, [plate, day, level_mA, wakes, hours]] of NIGHTS.entries()) {
    const [source, capture] = [join(root, `${n}.csv`), join(stage.dir, `night-${n}.nightdraw`)];
    writeFileSync(source, csv(day, level_mA, wakes, hours));
    await importCsv(source, capture, { software: 'test', created_ms: 0, job: `order ${n}` });
    setDetails(capture, { plate });
  }
  // The tree keeps plates as they were typed; here they are one car's.
  setDetails(join(stage.dir, 'night-2.nightdraw'), { plate: 'AB 12' });
  expect(await nightdraw('export', stage.dir, '--parquet', tree, '--personal')).toMatchObject({ status: 0 });
  setDetails(join(stage.dir, 'night-2.nightdraw'), { plate: 'ab-12' });
  await stage.serve({ carKey: 'a key' });
  for (let tries = 0; tries < 600; tries++) {
    fleet = fleetAnswer.parse(JSON.parse((await stage.ask('/api/fleet')).text));
    if (fleet.unread === 0) return;
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
}, 120_000);
afterAll(async () => {
  await stage.close();
  rmSync(root, { recursive: true, force: true });
});

test('cars, their order and every figure are those of SQL over the tree', async () => {
  const db = await (await DuckDBInstance.create()).connect();
  await db.run(`SET file_search_path = '${tree}'`);
  await db.run(readFileSync(join(tree, 'queries', 'views.sql'), 'utf8'));
  const ask = async (sql: string) => (await db.runAndReadAll(sql)).getRowObjectsJson();
  const cars = await ask(readFileSync(join(tree, 'queries', 'cars-worst-first.sql'), 'utf8'));
  expect(cars).toHaveLength(4);
  expect(fleet).toMatchObject({ found: 4, nights: NIGHTS.length, unread: 0 });
  const close = (a: unknown, b: number | null) =>
    a === null || b === null ? expect(a).toBe(b) : expect(Number(a)).toBeCloseTo(b, 9);
  for (const [i, row] of cars.entries()) {
    const { count, nights } = fleet.cars[i]!;
    const newest = nights[0]!;
    expect([`${row['capture'] as string}.nightdraw`, Number(row['count']), row['verdict']]).toEqual([
      newest.name,
      count,
      newest.code,
    ]);
    close(row['draw_mA'], newest.draw_mA);
    close(row['asleep_level_mA'], newest.level_mA);
    close(row['allowance_mA'], newest.allowance_mA);
    close(row['wakeups_per_day'], newest.wakeups_per_day);
  }
  // Night by night too: what the trends are drawn from.
  const rows = await ask(
    'SELECT capture, verdict, asleep_level_mA, coalesce(asleep_mean_mA, mean_mA) AS draw_mA, wakeups * 86400.0 / duration_s AS per_day, epoch_ms(start::TIMESTAMPTZ) AS start_ms FROM nights ORDER BY capture',
  );
  const all = fleet.cars.flatMap(({ nights }) => nights).sort((a, b) => (a.name < b.name ? -1 : 1));
  expect(all.map(({ name }) => name)).toEqual(rows.map((row) => `${row['capture'] as string}.nightdraw`));
  rows.forEach((row, i) => {
    close(row['draw_mA'], all[i]!.draw_mA);
    close(row['asleep_level_mA'], all[i]!.level_mA);
    close(row['per_day'], all[i]!.wakeups_per_day);
    expect(Number(row['start_ms'])).toBe(all[i]!.start_ms);
  });
  db.closeSync();
});

test('the worst is the car that draws most over its allowance now, not the one that once did; too short stands last', () => {
  const newest = fleet.cars.map(({ nights }) => nights[0]!.name);
  // CD 34 draws 55 mA and wakes; AB 12 drew 80 once and draws 12 now; EF 56's half hour is not its newest word.
  expect(newest).toEqual(['night-4.nightdraw', 'night-6.nightdraw', 'night-2.nightdraw', 'night-7.nightdraw']);
  expect(fleet.cars.map(({ count }) => count)).toEqual([2, 2, 3, 1]);
  expect(fleet.cars.at(-1)!.nights[0]!.code).toBe('short');
});

test('no plate stands in the answer or in the index; one that is taken out of a capture parts its nights', async () => {
  const bytes = readdirSync(stage.dir)
    .filter((name) => name.startsWith('.nightdraw-index'))
    .map((name) => readFileSync(join(stage.dir, name), 'latin1'))
    .join('');
  expect(bytes).toContain('night-0.nightdraw');
  for (const plate of new Set(NIGHTS.map(([plate]) => plate))) {
    expect(bytes).not.toContain(plate);
    expect(JSON.stringify(fleet)).not.toContain(plate);
  }
  setDetails(join(stage.dir, 'night-1.nightdraw'), { plate: '' });
  let now = fleet;
  for (let tries = 0; tries < 600 && (now.found !== 5 || now.unread > 0); tries++) {
    now = fleetAnswer.parse(JSON.parse((await stage.ask('/api/fleet')).text));
    await new Promise((resolve) => setTimeout(resolve, 20));
  }
  expect(now.found).toBe(5);
});

test('one car is one however its plate is typed; without a plate the job tells, without a job nothing does', () => {
  const of = (plate: string, job: string, name = 'n') => carOf({ plate, job, name }, 'key');
  expect(of('AB 12', 'x')).toBe(of('ab-12', 'y'));
  expect(of('AB 12', 'x')).not.toBe(of('AB 13', 'x'));
  expect(of('', 'Order 17, after the repair', 'a')).toBe(of('', 'order  17', 'b'));
  expect(of('', '', 'a')).not.toBe(of('', '', 'b'));
  expect(carOf({ plate: 'AB 12', job: '', name: 'n' }, 'other')).not.toBe(of('AB 12', ''));
  // Without a key nothing is made of a plate: whoever has the index could try them all.
  expect(carOf({ plate: 'AB 12', job: 'o', name: 'n' }, null)).toBe(carOf({ plate: '', job: 'o', name: 'n' }, null));
});

test("this computer's key is made once, is its user's alone, and none is made where nothing can be kept", () => {
  const folder = join(root, 'config');
  const key = carKey(folder);
  expect(key).toMatch(/^[0-9a-f]{64}$/);
  expect(carKey(folder)).toBe(key);
  expect(carKey(join(root, 'elsewhere'))).not.toBe(key);
  expect(carKey(join(root, '0.csv'))).toBeNull();
});
