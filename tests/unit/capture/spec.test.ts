// SPEC.md describes the file that is written: a reader made of the document alone reads the
// same out of it as the program, of every stream, and it names every table and column.
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { importCsv } from '../../../host/capture/exchange/csv.ts';
import { openCapture } from '../../../host/capture/read/reader.ts';
import { FORMAT_VERSION } from '../../../host/capture/format/schema.ts';
import { Database } from '../../../host/capture/format/sqlite.ts';
import { writeBaseCapture } from '../strangers/base-capture.ts';
import { readBySpec } from './spec-reader.ts';
import type { SpecBlock } from './spec-reader.ts';

const SPEC = readFileSync(new URL('../../../host/capture/format/SPEC.md', import.meta.url), 'utf8');
const OLD = new URL('old/format-1.nightdraw', import.meta.url).pathname;

let folder: string, path: string;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'nightdraw-spec-'));
  path = join(folder, 'base.nightdraw');
  writeBaseCapture(path);
});
afterAll(() => rmSync(folder, { recursive: true }));

const column = (blocks: readonly SpecBlock[], name: string) => blocks.flatMap(({ columns }) => columns[name]!);

test.each(['of this format', 'of format 1'])('windows and voltages %s', (which) => {
  const file = which === 'of format 1' ? OLD : path;
  const { blocks, version } = readBySpec(file);
  expect(version).toBe(which === 'of format 1' ? 1 : FORMAT_VERSION);
  const capture = openCapture(file);
  for (const { run, windows, voltage } of capture.readings()) {
    const own = (stream: number) => blocks.filter((block) => block.run === run.id && block.stream === stream);
    expect(windows.seq.length).toBeGreaterThan(0);
    for (const [name, values] of Object.entries(windows as unknown as Record<string, Float64Array>))
      expect(column(own(1), name), name).toEqual([...values]);
    for (const [name, values] of Object.entries(voltage as unknown as Record<string, Float64Array>))
      expect(column(own(2), name), name).toEqual([...values]);
  }
  capture.close();
});

test('raw conversions, and what they cover', () => {
  const { blocks } = readBySpec(path);
  const raw = blocks.filter(({ stream }) => stream === 4);
  const capture = openCapture(path);
  const lines = [...capture.rawLines()].flatMap((part) => part.lines);
  capture.close();
  const samples = lines.flatMap((line) => line.samples.map((sample) => ({ seq: line.seq, ...sample })));
  expect(samples.length).toBe(960);
  for (const name of ['seq', 't_us', 'units', 'flags'] as const)
    expect(column(raw, name), name).toEqual(samples.map((sample) => sample[name]));
  for (const block of raw) {
    const t_us = block.columns['t_us']!;
    expect(block.covered_us).toBe(
      t_us
        .slice(1)
        .map((t, i) => t - t_us[i]!)
        .filter((step) => step >= 0 && step <= 65_535)
        .reduce((sum, step) => sum + step, 0),
    );
  }
});

test('imported points, with blank cells and columns that are missing', async () => {
  const csv = join(folder, 'x.csv'),
    out = join(folder, 'points.nightdraw');
  writeFileSync(
    csv,
    [
      't_s,current_mA,voltage_V',
      ...Array.from(
        { length: 500 },
        (_, i) => `${i / 4},${(20 + (i % 13) / 8).toFixed(3)},${i % 9 === 0 ? '' : '12.61'}`,
      ),
    ].join('\n'),
  );
  await importCsv(csv, out, { software: 'test', created_ms: 0, job: '' });
  const { blocks, info } = readBySpec(out);
  expect(info['kind']).toBe('imported');
  const capture = openCapture(out);
  const points = capture.points();
  capture.close();
  for (const name of ['t_s', 'current_mA', 'voltage_V'] as const)
    expect(column(blocks, name), name).toEqual([...points[name]!]);
  expect(points.min_mA).toBeNull();
  expect(Object.keys(blocks[0]!.columns)).toEqual(['t_s', 'current_mA', 'voltage_V']);
});

test('every table and column of a capture is named', () => {
  const db = new Database(path, { readonly: true });
  const tables = db.prepare("SELECT name FROM sqlite_schema WHERE type = 'table'").pluck().all() as string[];
  expect(tables.length).toBeGreaterThan(10);
  for (const table of tables) {
    const columns = (db.pragma(`table_info(${table})`) as { name: string }[]).map(({ name }) => name);
    const heads = table === 'bay_state' ? '`bay_state (id = 1, state)`' : `\`${table} (${columns.join(', ')})\``;
    expect(SPEC.replaceAll(/\s+/g, ' '), table).toContain(heads);
  }
  const keys = db.prepare('SELECT key FROM info').pluck().all() as string[];
  for (const key of keys) expect(SPEC, key).toContain(`\`${key.replace(/\d+$/, 'N')}\``);
  db.close();
  expect(SPEC).toContain(`# The capture file, format ${FORMAT_VERSION}`);
});
