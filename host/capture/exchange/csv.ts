// Reads other meters' CSV as a trace, or imports it into a capture file.
//
// A row is the current at its instant: `points`, also where min_ and max_ columns
// stand beside it, since no column tells how long a row's stretch would be.

import { closeSync, openSync, readSync } from 'node:fs';
import { open } from 'node:fs/promises';
import { basename } from 'node:path';
import type { PointColumns } from '../format/blocks.ts';
import { CsvError, CsvRows } from './csv-rows.ts';
import { computersOffset_min } from './csv-values.ts';
import { traceOfPoints, voltageOfPoints } from '../read/points.ts';
import { kindOfFile, unreadable } from '../format/schema.ts';
import type { Trace, VoltageTrace } from '../../contract/capture.ts';
import { writeImported } from './import-draft.ts';
import { pointBlock } from '../store/writer.ts';
import type { PointBlock } from '../store/writer.ts';

const CHUNK_BYTES = 1 << 20;

/** @throws CsvError or Error where the file is no text at all */
function refuseForeign(path: string): void {
  const kind = kindOfFile(path);
  if (kind === 'empty') throw new CsvError(`${path} is empty: expected a capture or a CSV`);
  if (kind === 'database') throw new CsvError(`${path} is a database, not a CSV`);
  const head = Buffer.alloc(4096);
  const fd = openSync(path, 'r');
  const length = readSync(fd, head, 0, head.length, 0);
  closeSync(fd);
  for (const byte of head.subarray(0, length)) {
    // Text has no zero bytes, and no controls but tab, line ends and form feed.
    const control = byte < 0x20 && byte !== 9 && byte !== 10 && byte !== 12 && byte !== 13;
    if (control) throw new CsvError(`${path} is neither a capture nor a CSV: it holds bytes that are no text`);
  }
}

/**
 * Reads the file into `rows`, chunk by chunk, and calls `after` each; the next one is read meanwhile. Always into the
 * same memory, since new memory is slow.
 */
async function pour(path: string, rows: CsvRows, after: () => void = () => undefined): Promise<void> {
  refuseForeign(path);
  const worded = (error: NodeJS.ErrnoException) => {
    throw new Error(unreadable(path, error), { cause: error });
  };
  const file = await open(path, 'r').catch(worded);
  let [now, next] = [Buffer.allocUnsafe(CHUNK_BYTES), Buffer.allocUnsafe(CHUNK_BYTES)];
  const reading = (into: Buffer) => file.read(into, 0, into.length).catch(worded);
  let coming = reading(now);
  try {
    for (;;) {
      const { bytesRead } = await coming;
      if (bytesRead === 0) break;
      coming = reading(next);
      rows.feed(now.subarray(0, bytesRead));
      after();
      [now, next] = [next, now];
    }
  } finally {
    await coming.catch(() => undefined);
    await file.close();
  }
  rows.end();
  after();
}

/**
 * Reads a whole CSV.
 * @throws CsvError in one sentence, with the line where there is one; Error where the file cannot be read.
 */
export async function readCsv(path: string): Promise<{ trace: Trace; voltage: VoltageTrace | null }> {
  const blocks: PointColumns[] = [];
  const rows = new CsvRows(path, (points) => blocks.push(copied(points)), computersOffset_min);
  await pour(path, rows);
  const points = joined(blocks, rows.total);
  return { trace: traceOfPoints(points, rows.start_ms), voltage: voltageOfPoints(points) };
}

const copied = ({ t_s, current_mA, min_mA, max_mA, voltage_V }: PointColumns): PointColumns => ({
  t_s: t_s.slice(),
  current_mA: current_mA.slice(),
  min_mA: min_mA?.slice() ?? null,
  max_mA: max_mA?.slice() ?? null,
  voltage_V: voltage_V?.slice() ?? null,
});

function joined(blocks: readonly PointColumns[], total: number): PointColumns {
  const column = (pick: (block: PointColumns) => Float64Array | null): Float64Array | null => {
    if (blocks.length === 0 || pick(blocks[0]!) === null) return null;
    const all = new Float64Array(total);
    let at = 0;
    for (const block of blocks) {
      const part = pick(block)!;
      all.set(part, at);
      at += part.length;
    }
    return all;
  };
  return {
    t_s: column((b) => b.t_s) ?? new Float64Array(0),
    current_mA: column((b) => b.current_mA) ?? new Float64Array(0),
    min_mA: column((b) => b.min_mA),
    max_mA: column((b) => b.max_mA),
    voltage_V: column((b) => b.voltage_V),
  };
}

/**
 * Imports a CSV into a new capture, every value to the last bit.
 * @returns how many samples it holds
 * @throws as `readCsv`, or Error where `outPath` exists or cannot be written; then nothing is left behind.
 */
export async function importCsv(
  csvPath: string,
  outPath: string,
  about: { software: string; created_ms: number; job: string | null },
): Promise<{ samples: number }> {
  // Before anything is written: a wrong file name is the commonest mistake.
  refuseForeign(csvPath);
  let samples = 0;
  const capture = { kind: 'imported' as const, ...about, axis_ms: null, origin: { imported: basename(csvPath) } };
  await writeImported(outPath, capture, async (writer) => {
    let first_s: number | null = null;
    let blocks: PointBlock[] = [];
    const rows = new CsvRows(
      csvPath,
      (points) => {
        first_s ??= points.t_s[0]!;
        blocks.push(pointBlock(points));
      },
      computersOffset_min,
    );
    await pour(csvPath, rows, () => {
      writer.commitPoints(blocks);
      blocks = [];
    });
    samples = rows.total;
    // `start_ms` is the first row's; the axis' zero lies as far before it as its t_s tells.
    if (rows.start_ms !== null) writer.describe({ axis_ms: rows.start_ms - (first_s ?? 0) * 1000 });
  });
  return { samples };
}
