// What the index keeps of each night beside its place in the list: whose car it was, without
// saying whose, and the figures by which cars are compared.

import type { FleetNight } from '../../contract/api-fleet.ts';
import type { Findings } from '../../contract/findings.ts';
import type { Db } from '../../capture/format/sqlite.ts';

export const NIGHT_TABLE = `
CREATE TABLE night (
  name TEXT PRIMARY KEY, car TEXT NOT NULL, job TEXT NOT NULL, start_ms REAL, code TEXT NOT NULL, level_mA REAL,
  draw_mA REAL NOT NULL, allowance_mA REAL NOT NULL, wakeups_per_day REAL NOT NULL) WITHOUT ROWID;
CREATE INDEX night_car ON night (car);
`;

export type KeptNight = FleetNight & { car: string };

export function nightOf(name: string, car: string, job: string, findings: Findings): KeptNight {
  const { trace, asleep, verdict, allowance_mA, wakeups } = findings;
  return {
    name,
    car,
    job,
    start_ms: trace.start === null ? null : Date.parse(trace.start),
    code: verdict.code,
    level_mA: asleep?.level_mA ?? null,
    draw_mA: asleep?.mean_mA ?? trace.mean_mA,
    allowance_mA,
    wakeups_per_day: trace.duration_s > 0 ? (wakeups.length * 86_400) / trace.duration_s : 0,
  };
}

export function putNight(db: Db, night: KeptNight): void {
  db.prepare(
    'INSERT OR REPLACE INTO night (name, car, job, start_ms, code, level_mA, draw_mA, allowance_mA, wakeups_per_day) VALUES (@name, @car, @job, @start_ms, @code, @level_mA, @draw_mA, @allowance_mA, @wakeups_per_day)',
  ).run(night);
}

/** What is known of a capture that changed, or is gone, is not told any more: a name may have been taken out of it. */
export function dropNights(db: Db, names: readonly string[]): void {
  const drop = db.prepare('DELETE FROM night WHERE name = ?');
  for (const name of names) drop.run(name);
}

export interface CarPage {
  cars: { count: number; nights: FleetNight[] }[];
  found: number;
  nights: number;
}

/** The newest night that tells first, then by name: in both queries, and in queries/cars-worst-first.sql. */
const NEWEST = "code = 'short', start_ms DESC NULLS LAST, name";

/**
 * Cars by what their newest night draws over its allowance, the worst first; those whose nights are all too short last.
 * @param nights_max newest nights of each
 */
export function carPage(db: Db, from: number, count: number, nights_max: number): CarPage {
  const cars = db
    .prepare(
      `WITH ranked AS (SELECT *, row_number() OVER (PARTITION BY car ORDER BY ${NEWEST}) AS place, count(*) OVER (PARTITION BY car) AS count FROM night)
       SELECT car, count FROM ranked WHERE place = 1
       ORDER BY code = 'short', draw_mA / max(allowance_mA, 1e-9) DESC, name LIMIT ? OFFSET ?`,
    )
    .all(count, from) as { car: string; count: number }[];
  const nights = db.prepare(
    `SELECT name, job, start_ms, code, level_mA, draw_mA, allowance_mA, wakeups_per_day FROM night WHERE car = ? ORDER BY ${NEWEST} LIMIT ?`,
  );
  const sums = db.prepare('SELECT count(DISTINCT car) AS found, count(*) AS nights FROM night').get() as {
    found: number;
    nights: number;
  };
  return {
    cars: cars.map((one) => ({ count: one.count, nights: nights.all(one.car, nights_max) as FleetNight[] })),
    ...sums,
  };
}
