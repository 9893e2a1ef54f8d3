// Makes a capture of a Parquet file that `export` wrote, row group by row group, equal
// to the last digit.

import { asyncBufferFromFile, parquetMetadataAsync, parquetRead } from 'hyparquet';
import type { AsyncBuffer, FileMetaData } from 'hyparquet';
import * as z from 'zod/mini';
import type { VoltageColumns, WindowColumns } from '../format/blocks.ts';
import { aboutOf, factsShape, putFacts, putRun } from './facts.ts';
import type { CaptureFacts } from './facts.ts';
import { writeImported } from './import-draft.ts';
import { asDoubles, checkOf, FACTS_KEY, OWN_COLUMNS, PARQUET_FORMAT } from './parquet-columns.ts';
import type { RunFacts } from '../read/reader.ts';
import { linesOfColumns } from '../format/raw-blocks.ts';
import { unreadable } from '../format/schema.ts';
import { MERGED, MERGED_RAW, voltageAt, windowAt } from '../format/streams.ts';
import { ROW_STREAMS } from '../read/rows.ts';
import type { Reading } from '../../contract/capture.ts';
import { pointBlock } from '../store/writer.ts';
import type { CaptureWriter } from '../store/writer.ts';

interface Source {
  from: string;
  file: AsyncBuffer;
  metadata: FileMetaData;
}

type WholeFacts = CaptureFacts & { runs: RunFacts[]; checks: number[] };

const shape = z.extend(factsShape, { format: z.literal(PARQUET_FORMAT), checks: z.array(z.number()) });

/**
 * Makes a capture of such a file again.
 * @throws Error in one sentence where the file is none, is damaged, or the capture cannot be written
 */
export async function captureFromParquet(from: string, out: string): Promise<{ samples: number }> {
  const source = await opened(from);
  const facts = factsIn(source);
  let samples = 0;
  await writeImported(out, aboutOf(facts), async (writer) => {
    const runs = new Runs(writer, facts.runs);
    let row = 0;
    for (const [i, { num_rows }] of source.metadata.row_groups.entries()) {
      const group = await readGroup(source, row, row + Number(num_rows), facts.checks[i]);
      row += Number(num_rows);
      if (group.stream === 'window' || group.stream === 'point') samples += Number(num_rows);
      putGroup(group, writer, runs);
    }
    runs.beginTo(Infinity);
    putFacts(writer, facts);
  });
  return { samples };
}

/** Runs are begun in their order, those without a reading too. */
class Runs {
  private next = 0;
  private id = 0;

  constructor(
    private readonly writer: CaptureWriter,
    private readonly runs: readonly RunFacts[],
  ) {}

  /** @returns its number in the new capture, and its clock */
  beginTo(old: number): { run: number; clock: RunFacts['clock'] } {
    for (; this.next < this.runs.length && this.runs[this.next]!.run.id <= old; this.next++) {
      this.id = putRun(this.writer, this.runs[this.next]!);
      this.writer.commit({ run: this.id, readings: [], clock: this.runs[this.next]!.clock });
    }
    return { run: this.id, clock: this.runs[this.next - 1]?.clock ?? [] };
  }
}

async function opened(from: string): Promise<Source> {
  let file: AsyncBuffer;
  try {
    file = await asyncBufferFromFile(from);
  } catch (error) {
    throw new Error(unreadable(from, error as NodeJS.ErrnoException), { cause: error });
  }
  try {
    return { from, file, metadata: await parquetMetadataAsync(file) };
  } catch (error) {
    throw new Error(`${from} is no Parquet file (${(error as Error).message})`, { cause: error });
  }
}

function factsIn({ from, metadata }: Source): WholeFacts {
  const text = metadata.key_value_metadata?.find(({ key }) => key === FACTS_KEY)?.value;
  if (text === undefined)
    throw new Error(
      `${from} was not written by 'nightdraw export': its metadata holds no '${FACTS_KEY}'; other tables come in as CSV`,
    );
  let value: unknown;
  try {
    value = JSON.parse(text);
  } catch (error) {
    throw new Error(`${from} is damaged: its metadata '${FACTS_KEY}' is no JSON`, { cause: error });
  }
  const checked = shape.safeParse(value);
  if (!checked.success)
    throw new Error(
      `${from} is not of this version: its metadata '${FACTS_KEY}' has no proper '${checked.error.issues[0]!.path.join('.')}'`,
    );
  return checked.data as unknown as WholeFacts;
}

interface Group {
  stream: (typeof ROW_STREAMS)[number];
  run: number;
  length: number;
  columns: Record<string, Float64Array>;
  /** Of statuses. */
  codes: string[];
}

async function readGroup(source: Source, rowStart: number, rowEnd: number, check: number | undefined): Promise<Group> {
  const { from } = source,
    where = `rows ${rowStart} to ${rowEnd}`;
  const [streams, runs] = [
    await readColumn(source, 'stream', rowStart, rowEnd),
    asDoubles(await readColumn(source, 'run', rowStart, rowEnd)),
  ];
  const stream = ROW_STREAMS.find((known) => known === streams[0]);
  if (stream === undefined || streams.some((value) => value !== stream) || runs.some((value) => value !== runs[0])) {
    throw new Error(
      `${from} was changed by another program or is damaged: its ${where} are not of one stream and run; take the file as it was exported`,
    );
  }
  const columns: Record<string, Float64Array> = {};
  for (const name of OWN_COLUMNS[stream]) columns[name] = asDoubles(await readColumn(source, name, rowStart, rowEnd));
  if (checkOf(Object.values(columns)) !== check)
    throw new Error(
      `${from} is damaged: the check value of its ${where} does not fit; take the file as it was exported`,
    );
  const codes = stream === 'status' ? (await readColumn(source, 'code', rowStart, rowEnd)).map(String) : [];
  return { stream, run: runs[0]!, length: rowEnd - rowStart, columns, codes };
}

async function readColumn(
  { from, file, metadata }: Source,
  name: string,
  rowStart: number,
  rowEnd: number,
): Promise<unknown[]> {
  const values = new Array<unknown>(rowEnd - rowStart).fill(null);
  try {
    await parquetRead({
      file,
      metadata,
      columns: [name],
      rowStart,
      rowEnd,
      onChunk: ({ columnData, rowStart: at }) => {
        for (let i = 0; i < columnData.length; i++) values[at - rowStart + i] = columnData[i] as unknown;
      },
    });
  } catch (error) {
    throw new Error(
      `${from} is damaged in rows ${rowStart} to ${rowEnd}, column ${name}: ${(error as Error).message}`,
      { cause: error },
    );
  }
  return values;
}

function putGroup(group: Group, writer: CaptureWriter, runs: Runs): void {
  if (group.stream === 'point') {
    const { t_s, current_mA, min_mA, max_mA, voltage_V } = group.columns;
    const orNone = (values: Float64Array) => (values.every(Number.isNaN) ? null : values);
    const points = { t_s: t_s!, current_mA: current_mA!, min_mA: orNone(min_mA!), max_mA: orNone(max_mA!) };
    return writer.commitPoints([pointBlock({ ...points, voltage_V: orNone(voltage_V!) })]);
  }
  const readings = readingsOf(group);
  const { run, clock } = runs.beginTo(group.run);
  const atOnce = group.stream === 'raw' ? Math.ceil(MERGED_RAW / 6) : MERGED;
  for (let i = 0; i < readings.length; i += atOnce)
    writer.commit({ run, readings: readings.slice(i, i + atOnce), clock });
}

function readingsOf({ stream, length, columns, codes }: Group): Reading[] {
  const { seq, t_us, units, flags, detail } = columns;
  switch (stream) {
    case 'window':
      return Array.from({ length }, (_, i) => windowAt(columns as unknown as WindowColumns, i));
    case 'voltage':
      return Array.from({ length }, (_, i) => voltageAt(columns as unknown as VoltageColumns, i));
    case 'raw':
      return linesOfColumns({ seq: seq!, t_us: t_us!, units: Int32Array.from(units!), flags: Uint8Array.from(flags!) });
    default:
      return codes.map((code, i) => ({ kind: 'status', seq: seq![i]!, t_us: t_us![i]!, code, detail: detail![i]! }));
  }
}
