// A whole capture as one Parquet file: a row for each reading, for any program that
// reads tables, and all else in the file's metadata, so that `import` makes the same
// capture of it. Written row group by row group.

import { fileWriter, ParquetWriter } from 'hyparquet-writer';
import { factsOf } from './facts.ts';
import { asDoubles, checkOf, FACTS_KEY, OWN_COLUMNS, PARQUET_COLUMNS, PARQUET_FORMAT } from './parquet-columns.ts';
import type { ParquetColumn } from './parquet-columns.ts';
import { openCapture } from '../read/reader.ts';
import type { ReadOptions } from '../read/reader.ts';
import { ROWS_AT_ONCE } from '../read/rows.ts';
import type { Rows } from '../read/rows.ts';

/** @throws Error as `openCapture`, or the system's where `out` cannot be written */
export function writeParquet(
  path: string,
  out: string,
  { personal, ...read }: ReadOptions & { personal: boolean },
): void {
  const capture = openCapture(path, read);
  try {
    const runs = capture.runFacts();
    const facts = { format: PARQUET_FORMAT, runs, ...factsOf(capture, personal) };
    const checks: number[] = [];
    const file = fileWriter(out);
    const schema = [{ name: 'root', num_children: PARQUET_COLUMNS.length }, ...PARQUET_COLUMNS.map(schemaOf)];
    const writer = new ParquetWriter({ writer: file, schema, createdBy: capture.info().software });
    for (const rows of joined(capture.rows())) {
      const columnData = PARQUET_COLUMNS.map((column) => ({
        name: column.name,
        data: valuesOf(column, rows),
        ...(column.encoding === undefined || !(column.name in rows.columns) ? {} : { encoding: column.encoding }),
      }));
      checks.push(
        checkOf(
          OWN_COLUMNS[rows.stream].map((name) =>
            asDoubles((rows.columns[name] ?? nulls(rows.length)) as ArrayLike<unknown>),
          ),
        ),
      );
      void writer.write({ columnData, rowGroupSize: rows.length });
    }
    writer.kvMetadata = [{ key: FACTS_KEY, value: JSON.stringify({ ...facts, checks }) }];
    void writer.finish();
  } finally {
    capture.close();
  }
}

const schemaOf = ({ name, type }: ParquetColumn) => ({
  name,
  repetition_type: name === 'stream' ? ('REQUIRED' as const) : ('OPTIONAL' as const),
  ...(type === 'STRING' ? { type: 'BYTE_ARRAY' as const, converted_type: 'UTF8' as const } : { type }),
});

/** Blocks of raw conversions joined to row groups of a size that is read well. */
function* joined(parts: Iterable<Rows>): Generator<Rows> {
  let held: Rows[] = [],
    length = 0;
  const join = (): Rows => {
    const columns = Object.fromEntries(
      Object.keys(held[0]!.columns).map((name) => [
        name,
        held.flatMap((rows) => Array.from(rows.columns[name] as ArrayLike<number>)),
      ]),
    );
    return { ...held[0]!, length, columns };
  };
  for (const rows of parts) {
    const first = held[0];
    if (
      first !== undefined &&
      (first.stream !== rows.stream || first.run !== rows.run || length + rows.length > ROWS_AT_ONCE)
    ) {
      yield held.length === 1 ? first : join();
      held = [];
      length = 0;
    }
    held.push(rows);
    length += rows.length;
  }
  if (held.length > 0) yield held.length === 1 ? held[0]! : join();
}

/** A column's values in the type that the file has, null where there is none. */
function valuesOf(
  { name, type }: ParquetColumn,
  { stream, run, length, columns }: Rows,
): (string | number | bigint | null)[] {
  if (name === 'stream') return new Array<string>(length).fill(stream);
  if (name === 'run') return new Array<number>(length).fill(run);
  const values = columns[name];
  if (values === undefined) return nulls(length);
  if (type === 'STRING') return Array.from(values as readonly string[]);
  const numbers = values as ArrayLike<number>,
    out = new Array<number | bigint | null>(length);
  if (type === 'INT64') for (let i = 0; i < length; i++) out[i] = BigInt(numbers[i]!);
  else for (let i = 0; i < length; i++) out[i] = Number.isNaN(numbers[i]) ? null : numbers[i]!;
  return out;
}

/** Half of a row group's columns are empty; one list serves them all. */
let empty: null[] = [];
function nulls(length: number): null[] {
  if (empty.length !== length) empty = new Array<null>(length).fill(null);
  return empty;
}
