// The tree of many nights, read by DuckDB as the other program: the same totals as here,
// and the ready queries find what was put in.
import { DuckDBInstance } from '@duckdb/node-api';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { Findings } from '../../../host/contract/findings.ts';
import { addNight } from '../../../host/fleet/tree.ts';
import type { FleetNight } from '../../../host/fleet/tree.ts';
import { randomFrom } from '../analysis/night.ts';

const root = mkdtempSync(join(tmpdir(), 'nightdraw-fleet-'));
afterAll(() => rmSync(root, { recursive: true, force: true }));

const NIGHTS = 120,
  CARS = 24;
const next = randomFrom(5);

/** Car by car a type, a year and a level; every car of type "van" has the same family. */
function invent(i: number): FleetNight {
  const car = i % CARS,
    isVan = car % 3 === 0,
    asleep_mA = 10 + car * 5 + next(),
    wakeups_mAh = next() * 9;
  const asleep_mAh = asleep_mA * 8;
  return {
    capture: `night ${i}`,
    workshop: i % 2 === 0 ? "The bridge / 50% 'n'" : null,
    car: `P-${car}`,
    vehicle: `${isVan ? 'van' : `sort ${car}`} ${2010 + (car % 4)}`,
    findings: {
      trace: {
        start: new Date(Date.UTC(2026, 10, 1 + Math.floor(i / CARS), 20)).toISOString(),
        duration_s: 28_800,
        samples: 1,
        mean_mA: asleep_mA,
        gaps: [],
      },
      allowance_mA: 50,
      verdict: { code: asleep_mA > 50 ? 'over' : 'within', sentence: '' },
      asleep: { after_s: 600, level_mA: asleep_mA, mean_mA: asleep_mA, covered_s: 28_000 },
      steps: [],
      wakeups: [],
      dips: [],
      levels: [],
      families: isVan
        ? [
            {
              id: 1,
              count: 14,
              period_s: 2040 + next(),
              period_chance: 1e-9,
              period_95_s: null,
              polling: false,
              duration_s: 48 + next() / 10,
              charge_mAh: 25,
            },
          ]
        : [],
      charge: { total_mAh: asleep_mAh + wakeups_mAh, going_to_sleep_mAh: 0, asleep_mAh, wakeups_mAh, gaps_mAh: null },
      battery: {},
    } as unknown as Findings,
  };
}

const nights = Array.from({ length: NIGHTS }, (_, i) => invent(i));
const query = (name: string) =>
  readFileSync(new URL(`../../../host/fleet/queries/${name}.sql`, import.meta.url), 'utf8');
let ask: (sql: string) => Promise<Record<string, unknown>[]>;

beforeAll(async () => {
  nights.forEach((night) => addNight(root, night));
  const db = await (await DuckDBInstance.create()).connect();
  await db.run(query('views').replaceAll("read_parquet('", `read_parquet('${root}/`));
  ask = async (sql) => (await db.runAndReadAll(sql)).getRowObjectsJson();
});

const sum = (values: number[]) => values.reduce((a, b) => a + b, 0);

test('DuckDB sums what was put in, and finds the partitions as they were spelled', async () => {
  const [all] = await ask(
    'SELECT count(*)::INT AS n, sum(total_mAh) AS total, sum(wakeups_mAh) AS woken, count(gaps_mAh)::INT AS gaps FROM nights',
  );
  expect(all).toMatchObject({ n: NIGHTS, gaps: 0 });
  expect(all!['total']).toBeCloseTo(sum(nights.map(({ findings }) => findings.charge.total_mAh)), 6);
  expect(all!['woken']).toBeCloseTo(sum(nights.map(({ findings }) => findings.charge.wakeups_mAh)), 6);
  expect(await ask('SELECT DISTINCT workshop FROM nights ORDER BY 1')).toEqual([
    { workshop: "The bridge / 50% 'n'" },
    { workshop: 'unknown' },
  ]);
  expect(await ask('SELECT count(*)::INT AS n FROM families')).toEqual([
    { n: nights.filter(({ findings }) => findings.families.length > 0).length },
  ]);
});

test('a night that is exported again is there once', async () => {
  addNight(root, nights[3]!);
  expect(await ask('SELECT count(*)::INT AS n FROM nights')).toEqual([{ n: NIGHTS }]);
});

test('the ready queries find the hungriest car, the family in common and the model years', async () => {
  expect((await ask(query('worst-sleepers')))[0]).toMatchObject({
    car: `P-${CARS - 1}`,
    nights: String(NIGHTS / CARS),
  });
  const common = await ask(query('same-family'));
  expect(sum(common.map((row) => Number(row['cars'])))).toBeGreaterThanOrEqual(CARS / 3);
  expect(new Set(common.map((row) => row['car_type']))).toEqual(new Set(['van']));
  const years = await ask(query('draw-per-model-year'));
  expect(years.map((row) => row['model_year'])).toEqual([2010, 2011, 2012, 2013]);
  expect(years.map((row) => Number(row['cars']))).toEqual([6, 6, 6, 6]);
});
