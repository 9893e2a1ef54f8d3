// `export --parquet` as it is run: a folder of captures into a tree that brings its queries
// along, and the same totals in DuckDB as `analyse` tells.
import { DuckDBInstance } from '@duckdb/node-api';
import { copyFileSync, mkdirSync, mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import type { Findings } from '../../../host/contract/findings.ts';
import { nightdraw } from '../../in-process.ts';

const project = new URL('../../..', import.meta.url).pathname;
const root = mkdtempSync(join(tmpdir(), 'nightdraw-export-'));
const captures = join(root, 'captures'),
  tree = join(root, 'tree');
let ask: (sql: string) => Promise<Record<string, unknown>[]>;
const query = (name: string) => readFileSync(join(tree, 'queries', `${name}.sql`), 'utf8');

beforeAll(async () => {
  mkdirSync(captures);
  for (const name of ['wakes-often', 'steady-over']) {
    copyFileSync(join(project, 'captures', `${name}.nightdraw`), join(captures, `${name}.nightdraw`));
    expect(
      await nightdraw('about', join(captures, `${name}.nightdraw`), '--plate', `P/${name}`, '--vehicle', 'estate 2019'),
    ).toMatchObject({ status: 0 });
  }
  const rows = Array.from(
    { length: 40_000 },
    (_, i) =>
      `2031-05-04T${String(20 + Math.floor(i / 18_000)).padStart(2, '0')}:${String(Math.floor(i / 300) % 60).padStart(2, '0')}:${((i % 300) / 5).toFixed(1).padStart(4, '0')}Z,${i < 9000 ? 900 : 21 + (i % 3)}`,
  );
  writeFileSync(join(captures, 'other meter.csv'), `time,current_mA\n${rows.join('\n')}\n`);
  writeFileSync(join(captures, 'nightdraw.json'), JSON.stringify({ workshop_name: 'At the bridge' }));
  writeFileSync(join(captures, 'torn.csv'), 'time,current_mA\nnever,much\n');
  const db = await (await DuckDBInstance.create()).connect();
  await db.run(`SET file_search_path = '${tree}'`);
  ask = async (sql) => (await db.runAndReadAll(sql)).getRowObjectsJson();
});
afterAll(() => rmSync(root, { recursive: true, force: true }));

test('what cannot be read is told, the others are in the tree, and its totals are those of analyse', async () => {
  const { status, stdout, stderr } = await nightdraw('export', captures, '--parquet', tree, '--personal');
  expect({ status, stdout }).toEqual({ status: 1, stdout: `${tree}: 3 nights written, 1 could not be\n` });
  expect(stderr).toMatch(/^nightdraw: .*torn\.csv.*\n$/);
  await ask(query('views'));
  const told: Findings[] = [];
  for (const name of readdirSync(captures).filter((name) => /^(wakes|steady|other)/.test(name)))
    told.push(JSON.parse((await nightdraw('analyse', join(captures, name), '--json')).stdout) as Findings);
  const total = told.reduce((sum, { charge }) => sum + charge.total_mAh, 0);
  const wakeups = told.reduce((sum, { wakeups }) => sum + wakeups.length, 0);
  expect(wakeups).toBeGreaterThan(5);
  const [all] = await ask(
    'SELECT count(*)::INT AS nights, sum(total_mAh) AS total, sum(wakeups)::INT AS wakeups FROM nights',
  );
  expect(all).toMatchObject({ nights: 3, wakeups });
  expect(all!['total']).toBeCloseTo(total, 9);
  expect(await ask('SELECT sum(count)::INT AS n FROM families')).toEqual([
    { n: told.reduce((sum, { families }) => sum + families.reduce((n, { count }) => n + count, 0), 0) },
  ]);
  expect(await ask('SELECT DISTINCT workshop, car, car_type, model_year FROM nights ORDER BY car')).toEqual([
    { workshop: 'At the bridge', car: 'P/steady-over', car_type: 'estate', model_year: 2019 },
    { workshop: 'At the bridge', car: 'P/wakes-often', car_type: 'estate', model_year: 2019 },
    { workshop: 'At the bridge', car: 'unknown', car_type: null, model_year: null },
  ]);
});

test('every query that came along runs, and what the columns mean lies beside them', async () => {
  const queries = readdirSync(join(tree, 'queries')).filter((name) => name !== 'views.sql');
  expect(queries.length).toBeGreaterThanOrEqual(3);
  for (const name of queries)
    expect((await ask(query(name.replace(/\.sql$/, '')))).length, name).toBeGreaterThanOrEqual(
      name.startsWith('same-family') ? 0 : 1,
    );
  const spec = readFileSync(join(tree, 'SPEC.md'), 'utf8');
  for (const table of ['nights', 'families']) {
    for (const { column_name } of await ask(`DESCRIBE ${table}`)) {
      if (!['workshop', 'car', 'date'].includes(String(column_name)))
        expect(spec).toContain(`\`${String(column_name)}\``);
    }
  }
});

test('without --personal no plate and no vehicle is in the tree', async () => {
  rmSync(tree, { recursive: true });
  expect(await nightdraw('export', join(captures, 'wakes-often.nightdraw'), '--parquet', tree)).toMatchObject({
    status: 0,
  });
  await ask(query('views'));
  expect(await ask('SELECT car, car_type, model_year FROM nights')).toEqual([
    { car: 'unknown', car_type: null, model_year: null },
  ]);
});
