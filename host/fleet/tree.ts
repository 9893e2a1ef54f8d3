// Findings of many nights as a tree of Parquet files that any engine reads without this
// program: SPEC.md describes it. Two small tables, partitioned by workshop, car and date.

import { createHash } from 'node:crypto';
import { mkdirSync, renameSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { parquetWriteBuffer } from 'hyparquet-writer';
import { ofWakeUps } from '../say/polling.ts';
import type { Findings } from '../contract/findings.ts';

export interface FleetNight {
  /** Name of the capture's file without folder and ending: tells nights of one car and date apart. */
  capture: string;
  workshop: string | null;
  /** What names the car, such as its plate; null where it is not told or not to be passed on. */
  car: string | null;
  /** Free text such as "estate 2019"; a year in it is the model year. */
  vehicle: string | null;
  findings: Findings;
}

type Value = string | number | null;
type ColumnType = 'STRING' | 'INT32' | 'DOUBLE';
type Columns = Record<string, readonly [ColumnType, (row: never) => Value]>;

interface Head {
  night: FleetNight;
  type: string | null;
  year: number | null;
}
type FamilyRow = Head & { family: Findings['families'][number] };

const HEAD = {
  capture: ['STRING', ({ night }: Head) => night.capture],
  car_type: ['STRING', ({ type }: Head) => type],
  model_year: ['INT32', ({ year }: Head) => year],
} as const satisfies Columns;

export const NIGHT_COLUMNS = {
  ...HEAD,
  start: ['STRING', ({ night }: Head) => night.findings.trace.start],
  duration_s: ['DOUBLE', ({ night }: Head) => night.findings.trace.duration_s],
  mean_mA: ['DOUBLE', ({ night }: Head) => night.findings.trace.mean_mA],
  allowance_mA: ['DOUBLE', ({ night }: Head) => night.findings.allowance_mA],
  verdict: ['STRING', ({ night }: Head) => night.findings.verdict.code],
  asleep_after_s: ['DOUBLE', ({ night }: Head) => night.findings.asleep?.after_s ?? null],
  asleep_level_mA: ['DOUBLE', ({ night }: Head) => night.findings.asleep?.level_mA ?? null],
  asleep_mean_mA: ['DOUBLE', ({ night }: Head) => night.findings.asleep?.mean_mA ?? null],
  wakeups: ['INT32', ({ night }: Head) => night.findings.wakeups.length],
  total_mAh: ['DOUBLE', ({ night }: Head) => night.findings.charge.total_mAh],
  going_to_sleep_mAh: ['DOUBLE', ({ night }: Head) => night.findings.charge.going_to_sleep_mAh],
  asleep_mAh: ['DOUBLE', ({ night }: Head) => night.findings.charge.asleep_mAh],
  wakeups_mAh: ['DOUBLE', ({ night }: Head) => night.findings.charge.wakeups_mAh],
  gaps_mAh: ['DOUBLE', ({ night }: Head) => night.findings.charge.gaps_mAh],
} as const satisfies Columns;

export const FAMILY_COLUMNS = {
  ...HEAD,
  family: ['INT32', ({ family }: FamilyRow) => family.id],
  count: ['INT32', ({ family }: FamilyRow) => family.count],
  period_s: ['DOUBLE', ({ family }: FamilyRow) => family.period_s],
  duration_s: ['DOUBLE', ({ family }: FamilyRow) => family.duration_s],
  charge_mAh: ['DOUBLE', ({ family }: FamilyRow) => family.charge_mAh],
} as const satisfies Columns;

/** Writes a night into the tree at `root`, in place of what stood there of the same capture. */
export function addNight(root: string, night: FleetNight): void {
  const head: Head = { night, ...kindOf(night.vehicle) };
  const partition = join(
    `workshop=${partOf(night.workshop)}`,
    `car=${partOf(night.car)}`,
    `date=${dateOf(night.findings.trace.start)}`,
  );
  const name = `${partOf(night.capture)}.parquet`;
  put(join(root, 'nights', partition), name, NIGHT_COLUMNS, [head]);
  // Without a row too: an earlier file of the same capture must not stay.
  put(
    join(root, 'families', partition),
    name,
    FAMILY_COLUMNS,
    ofWakeUps(night.findings.families).map((family) => ({ ...head, family })),
  );
}

function put<Row>(
  folder: string,
  name: string,
  columns: Record<string, readonly [ColumnType, (row: Row) => Value]>,
  rows: readonly Row[],
): void {
  const columnData = Object.entries(columns).map(([column, [type, value]]) => ({
    name: column,
    type,
    nullable: true,
    data: rows.map(value),
  }));
  mkdirSync(folder, { recursive: true });
  // Engines read what ends in .parquet and begins with neither dot nor underscore.
  const draft = join(folder, `.${name}.draft-${process.pid}`);
  writeFileSync(draft, new Uint8Array(parquetWriteBuffer({ columnData })));
  renameSync(draft, join(folder, name));
}

/** Room for the name of a file in any system, ending and draft included. */
const PART_MAX = 120;

/**
 * A folder name on any system: what else is in the text is spelled as %XX, as engines undo it; a long one ends in its
 * check sum.
 */
function partOf(text: string | null): string {
  const trimmed = (text ?? '').trim().replace(/\p{Cs}/gu, '\ufffd');
  if (trimmed === '') return 'unknown';
  const letters = [...trimmed].map((letter) =>
    encodeURIComponent(letter).replace(/[!'()*.~]/g, (c) => `%${c.charCodeAt(0).toString(16).toUpperCase()}`),
  );
  if (letters.join('').length <= PART_MAX) return letters.join('');
  const sum = createHash('sha256').update(trimmed).digest('hex').slice(0, 12);
  let part = '';
  for (const letter of letters) {
    if (part.length + letter.length + 1 + sum.length > PART_MAX) break;
    part += letter;
  }
  return `${part}-${sum}`;
}

const dateOf = (start: string | null) => (start === null ? 'unknown' : start.slice(0, 10));

function kindOf(vehicle: string | null): { type: string | null; year: number | null } {
  const year = /\b(19[5-9]\d|20\d\d)\b/.exec(vehicle ?? '');
  const type = (vehicle ?? '')
    .replace(year?.[0] ?? '', '')
    .replace(/\s+/g, ' ')
    .trim();
  return { type: type === '' ? null : type, year: year === null ? null : Number(year[0]) };
}
