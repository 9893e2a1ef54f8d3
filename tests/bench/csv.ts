// Import of a long CSV into a capture, against DuckDB's CSV reader on one thread filling
// a table from the same file, in the same run.

import { closeSync, mkdtempSync, openSync, rmSync, writeSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { DuckDBInstance } from '@duckdb/node-api';
import { importCsv } from '../../host/capture/exchange/csv.ts';
import { normalFrom, randomFrom } from '../unit/analysis/night.ts';
import { median, timed_ms } from './figures.ts';
import type { Figure } from './figures.ts';

/** A tenth of 12 h at 1 kHz; NIGHTDRAW_WHOLE=1 takes all. */
const LINES = process.env['NIGHTDRAW_WHOLE'] === '1' ? 43_200_000 : 4_320_000;
const ROUNDS = process.env['NIGHTDRAW_WHOLE'] === '1' ? 1 : 3;
const LINES_AT_ONCE = 100_000;

function writeCsv(path: string): void {
  const normal = normalFrom(randomFrom(3));
  const file = openSync(path, 'w');
  writeSync(file, 't_s,current_mA\n');
  for (let from = 0; from < LINES; from += LINES_AT_ONCE) {
    let text = '';
    for (let i = from; i < Math.min(LINES, from + LINES_AT_ONCE); i++)
      text += `${(i / 1000).toFixed(3)},${(19 + normal()).toFixed(3)}\n`;
    writeSync(file, text);
  }
  closeSync(file);
}

async function byDuckdb(path: string): Promise<void> {
  const connection = await (await DuckDBInstance.create(':memory:', { threads: '1' })).connect();
  await connection.run(`CREATE TABLE night AS SELECT * FROM read_csv('${path}')`);
  const [[count]] = (await connection.runAndReadAll('SELECT count(*) FROM night')).getRows() as [[bigint]];
  if (Number(count) !== LINES) throw new Error(`DuckDB read ${count} lines, not ${LINES}`);
  connection.closeSync();
}

export async function csvFigures(): Promise<Figure[]> {
  const dir = mkdtempSync(join(tmpdir(), 'nightdraw-bench-'));
  try {
    const path = join(dir, 'night.csv'),
      out = join(dir, 'night.nightdraw');
    writeCsv(path);
    const ratios: number[] = [];
    for (let round = 0; round < ROUNDS; round++) {
      rmSync(out, { force: true });
      const own_ms = await timed_ms(() => importCsv(path, out, { software: 'bench', created_ms: 0, job: '' }));
      const theirs_ms = await timed_ms(() => byDuckdb(path));
      ratios.push(own_ms / theirs_ms);
      console.log(
        `      (${LINES} lines of CSV: imported in ${(own_ms / 1000).toFixed(1)} s, DuckDB ${(theirs_ms / 1000).toFixed(1)} s)`,
      );
    }
    return [
      {
        name: 'csv_import_ratio',
        meaning: 'import of a long CSV, against DuckDB reading it into a table on one thread',
        value: median(ratios),
        unit: 'times',
      },
    ];
  } finally {
    rmSync(dir, { recursive: true, force: true });
  }
}
