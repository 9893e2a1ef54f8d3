// A workshop with ten thousand captures: how soon the server lists and searches them, and
// whether DuckDB over the exported tree comes to the same totals as the program.

import { DuckDBInstance } from '@duckdb/node-api';
import { execFileSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { interpret, optionsFrom } from '../../host/analysis/meaning/interpret.ts';
import { openTrace } from '../../host/night/open.ts';
import type { CaptureList } from '../../host/contract/api.ts';
import { randomFrom } from '../unit/analysis/night.ts';
import { median, timed_ms } from './figures.ts';
import { listPage_ms } from './page-speed.ts';
import type { Figure } from './figures.ts';
import { ask, PROGRAM, serving } from './serving.ts';

const CAPTURES = 10_000;
const SEED = 11;
const QUESTIONS = 101;
const PAGES = 11;
/** As the ready queries see it: Parquet holds doubles, and sums may be added in another order. */
const SAME = 1e-9;

/** A short night for each: awake, then asleep at a level of its own, with a few wake-ups. */
function writeMany(dir: string): void {
  const next = randomFrom(SEED);
  for (let n = 0; n < CAPTURES; n++) {
    const begin_ms = Date.UTC(2020, 0, 1, 18) + n * 7_200_000;
    const level_mA = 8 + 40 * next(),
      wakes = Math.floor(4 * next());
    const rows = Array.from({ length: 240 }, (_, i) => {
      const woken = wakes > 0 && i > 60 && i % Math.floor(160 / wakes) < 3;
      return `${new Date(begin_ms + i * 30_000).toISOString()},${(i < 20 ? 900 : level_mA + (woken ? 500 : 0) + next()).toFixed(2)}`;
    });
    writeFileSync(join(dir, `car-${String(n).padStart(5, '0')}.csv`), ['time,current_mA', ...rows].join('\n'));
  }
}

interface Totals {
  nights: number;
  charge_mAh: number;
  wakeups: number;
}

/** What the program says of each, added up. */
async function ownTotals(dir: string): Promise<Totals> {
  const totals: Totals = { nights: 0, charge_mAh: 0, wakeups: 0 };
  for (let n = 0; n < CAPTURES; n++) {
    const { trace, voltage } = await openTrace(join(dir, `car-${String(n).padStart(5, '0')}.csv`));
    const { charge, wakeups } = interpret({ trace, voltage, fullScale_mA: null }, optionsFrom({}));
    totals.nights++;
    totals.charge_mAh += charge.total_mAh;
    totals.wakeups += wakeups.length;
  }
  return totals;
}

async function duckTotals(tree: string): Promise<Totals> {
  const connection = await (await DuckDBInstance.create(':memory:')).connect();
  const rows = await connection.runAndReadAll(
    `SELECT count(*)::INT, sum(total_mAh), sum(wakeups)::INT FROM read_parquet('${tree}/nights/**/*.parquet', hive_partitioning = true)`,
  );
  connection.closeSync();
  const [nights, charge_mAh, wakeups] = rows.getRows()[0]!.map(Number);
  return { nights: nights!, charge_mAh: charge_mAh!, wakeups: wakeups! };
}

function expectSame(own: Totals, theirs: Totals): void {
  if (
    own.nights !== theirs.nights ||
    own.wakeups !== theirs.wakeups ||
    Math.abs(own.charge_mAh / theirs.charge_mAh - 1) > SAME ||
    own.wakeups < CAPTURES / 2
  ) {
    throw new Error(`DuckDB and the program differ: ${JSON.stringify({ own, theirs })}`);
  }
}

async function timesOf(url: string, count: number): Promise<number[]> {
  const times: number[] = [];
  for (let i = 0; i < count; i++) {
    times.push(
      await timed_ms(async () => {
        const { captures, total } = await ask<CaptureList>(url);
        if (total !== CAPTURES || captures.length === 0)
          throw new Error(`${captures.length} of ${total} captures listed`);
      }),
    );
  }
  return times;
}

export async function fleetFigures(): Promise<Figure[]> {
  const root = mkdtempSync(join(tmpdir(), 'nightdraw-bench-'));
  const [dir, tree] = [join(root, 'captures'), join(root, 'tree')];
  try {
    mkdirSync(dir);
    writeMany(dir);
    execFileSync(process.execPath, [PROGRAM, 'export', dir, '--parquet', tree], { stdio: 'pipe' });
    const [own, theirs] = [await ownTotals(dir), await duckTotals(tree)];
    expectSame(own, theirs);
    console.log(
      `      (${own.nights} nights, ${own.wakeups} wake-ups, ${own.charge_mAh.toFixed(1)} mAh: the same from DuckDB)`,
    );
    const server = await serving(dir);
    try {
      const [first_ms] = await timesOf(`${server.url}api/captures`, 1);
      // The analysis of all of them has begun by that, and goes on while these are asked.
      const list_ms = await timesOf(`${server.url}api/captures`, QUESTIONS);
      const search_ms = await timesOf(`${server.url}api/captures?search=car-0&count=50`, QUESTIONS);
      const page_ms = await listPage_ms(server.url, PAGES);
      console.log(`      (the very first list, without an index: ${first_ms!.toFixed(0)} ms)`);
      return [
        {
          name: 'list_captures_ms',
          meaning: `${CAPTURES} captures: the list, while they are being analysed`,
          value: median(list_ms),
          unit: 'ms',
        },
        { name: 'search_captures_ms', meaning: 'the same: a search in it', value: median(search_ms), unit: 'ms' },
        {
          name: 'list_page_ms',
          meaning: 'the same: from opening the page to its first list on the screen',
          value: page_ms,
          unit: 'ms',
        },
      ];
    } finally {
      await server.end();
    }
  } finally {
    rmSync(root, { recursive: true, force: true });
  }
}
