// Twelve hours of a thousand samples a second, as a capture behind the real server and
// as a Parquet file before DuckDB: how long the first picture takes, how long any
// other window, and how long DuckDB takes for the same windows of the same samples.

import { DuckDBInstance } from '@duckdb/node-api';
import { parquetWriteFile } from 'hyparquet-writer';
import { mkdirSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { overviewAnswer } from '../../host/contract/api.ts';
import type { Overview } from '../../host/contract/api.ts';
import { randomFrom } from '../unit/analysis/night.ts';
import { median } from './figures.ts';
import type { Figure } from './figures.ts';
import { currents, HOURS, writeLongNight } from './long-night.ts';
import { pageTimes } from './page-speed.ts';
import type { PageTimes } from './page-speed.ts';
import { ask, serving } from './serving.ts';

/** Columns of a wide screen. */
const BINS = 1280;
const QUERIES = 101;
/** The narrowest window that is asked for, s. */
const NARROWEST_S = 2;
const SEED = 11;

/** Each sample stands at the middle of its millisecond, so that no rounding moves it to a neighbouring bin. */
function writeParquet(path: string, all: Int32Array): void {
  parquetWriteFile({
    filename: path,
    rowGroupSize: 122_880,
    columnData: [
      { name: 't_s', data: Float64Array.from(all, (_, i) => (i + 0.5) / 1000), type: 'DOUBLE' },
      { name: 'current_uA', data: all, type: 'INT32' },
    ],
  });
}

interface Window {
  from_s: number;
  to_s: number;
}

/** Of every width from seconds to the whole night, anywhere, on whole bins of whole milliseconds. */
function windows(): Window[] {
  const random = randomFrom(SEED + 1);
  const whole_s = HOURS * 3600;
  return Array.from({ length: QUERIES }, () => {
    const per_bin_ms = Math.max(1, Math.floor((1000 * NARROWEST_S * (whole_s / NARROWEST_S) ** random()) / BINS));
    const width_s = (per_bin_ms * BINS) / 1000;
    const from_s = Math.floor(random() * (whole_s - width_s));
    return { from_s, to_s: from_s + width_s };
  });
}

async function timed<T>(work: () => Promise<T>): Promise<{ ms: number; value: T }> {
  const begin_ms = performance.now();
  const value = await work();
  return { ms: performance.now() - begin_ms, value };
}

/** Mean, minimum and maximum of each bin, as DuckDB's manual writes such a query over a file. */
const sqlOf = (path: string, { from_s, to_s }: Window) => `
  SELECT CAST(floor((t_s - ${from_s}) / ${(to_s - from_s) / BINS}) AS INTEGER) AS bin, avg(current_uA) / 1000, min(current_uA) / 1000, max(current_uA) / 1000
  FROM read_parquet('${path}') WHERE t_s >= ${from_s} AND t_s < ${to_s} GROUP BY bin ORDER BY bin`;

/** Both have to give the same picture, or comparing their times says nothing. */
function expectSame(ours: Overview, rows: unknown[][], window: Window): void {
  overviewAnswer.parse(ours);
  const where = `${window.from_s} to ${window.to_s} s`;
  if (rows.length !== BINS) throw new Error(`DuckDB gives ${rows.length} bins, not ${BINS}, from ${where}`);
  const per_bin = ((window.to_s - window.from_s) * 1000) / BINS;
  rows.forEach(([bin, mean, min, max], i) => {
    if (bin !== i) throw new Error(`bin ${i} is missing from ${where}`);
    const off = Math.abs(ours.mean_mA[i]! - Number(mean));
    // Bins read from groups of samples may hold part of a neighbour's group, never lose an extreme.
    if (per_bin < 64 ? off > 0.01 : ours.min_mA[i]! > Number(min) + 0.01 || ours.max_mA[i]! < Number(max) - 0.01) {
      throw new Error(
        `bin ${i} from ${where}: ${ours.mean_mA[i]} [${ours.min_mA[i]} ${ours.max_mA[i]}] mA, DuckDB ${String(mean)} [${String(min)} ${String(max)}]`,
      );
    }
  });
}

interface Times {
  first_ms: number;
  query_ms: number;
  share: number;
}

/** The widths apart: a narrow window lies in few of the row groups that DuckDB has to read. */
function tell(ours_ms: readonly number[], theirs_ms: readonly number[]): void {
  const all = windows()
    .map(({ from_s, to_s }, i) => ({ width_s: to_s - from_s, ours: ours_ms[i]!, theirs: theirs_ms[i]! }))
    .sort((a, b) => a.width_s - b.width_s);
  for (let part = 0; part < 4; part++) {
    const own = all.slice(Math.floor((part * all.length) / 4), Math.floor(((part + 1) * all.length) / 4));
    console.log(
      `      (windows of ${own[0]!.width_s.toFixed(0)} to ${own.at(-1)!.width_s.toFixed(0)} s: median ${median(own.map(({ ours }) => ours)).toFixed(1)} ms, DuckDB ${median(own.map(({ theirs }) => theirs)).toFixed(1)} ms)`,
    );
  }
}

async function measure(url: string, parquet: string): Promise<Times> {
  const whole = { from_s: 0, to_s: HOURS * 3600 };
  const urlOf = ({ from_s, to_s }: Window) =>
    `${url}api/captures/night.nightdraw/overview?from_s=${from_s}&to_s=${to_s}&bins=${BINS}`;
  // As the page begins: what the capture says of itself, then all of it.
  const first = await timed(async () => {
    await ask(`${url}api/captures/night.nightdraw`);
    return ask<Overview>(urlOf(whole));
  });
  const connection = await (await DuckDBInstance.create(':memory:')).connect();
  const duckdb = async (window: Window) =>
    (await connection.runAndReadAll(sqlOf(parquet, window))).getRows() as unknown[][];
  const ours_ms: number[] = [],
    theirs_ms: number[] = [];
  for (const window of windows()) {
    const ours = await timed(() => ask<Overview>(urlOf(window)));
    const theirs = await timed(() => duckdb(window));
    ours_ms.push(ours.ms);
    theirs_ms.push(theirs.ms);
    expectSame(ours.value, theirs.value, window);
  }
  connection.closeSync();
  tell(ours_ms, theirs_ms);
  return { first_ms: first.ms, query_ms: median(ours_ms), share: median(ours_ms) / median(theirs_ms) };
}

/** A server of its own, so that nothing is known yet when the page asks. */
async function pageFrom(dir: string): Promise<PageTimes> {
  const server = await serving(dir);
  try {
    return await pageTimes(`${server.url}#night.nightdraw`);
  } finally {
    await server.end();
  }
}

export async function windowQueryFigures(): Promise<Figure[]> {
  const root = mkdtempSync(join(tmpdir(), 'nightdraw-bench-'));
  const [dir, parquet] = [join(root, 'captures'), join(root, 'night.parquet')];
  try {
    mkdirSync(dir);
    const all = currents();
    await writeLongNight(join(dir, 'night.nightdraw'), all);
    writeParquet(parquet, all);
    const { first_ms: page_ms, move_ms } = await pageFrom(dir);
    const server = await serving(dir);
    try {
      const { first_ms, query_ms, share } = await measure(server.url, parquet);
      return [
        {
          name: 'first_picture_s',
          meaning: '43.2 M samples: the first picture from a server just started',
          value: first_ms / 1000,
          unit: 's',
        },
        {
          name: 'page_first_s',
          meaning: 'the same: from navigation to the picture in the browser',
          value: page_ms / 1000,
          unit: 's',
        },
        { name: 'page_move_ms', meaning: 'the same: one zoom drawn in the browser', value: move_ms, unit: 'ms' },
        {
          name: 'window_query_ms',
          meaning: '43.2 M samples: any window in 1280 bins from the server',
          value: query_ms,
          unit: 'ms',
        },
        {
          name: 'window_duckdb_ratio',
          meaning: 'the same, against DuckDB over a Parquet file of the same samples',
          value: share,
          unit: 'times',
        },
      ];
    } finally {
      await server.end();
    }
  } finally {
    rmSync(root, { recursive: true, force: true });
  }
}
