// Turns the bytes of a CSV, as they come, into checked rows of numbers. Every
// complaint names the line and what was expected there.

import type { PointColumns } from '../format/blocks.ts';
import { EXPECTED_COLUMNS, readHeader } from './csv-header.ts';
import type { ColumnPlace, CsvHeader } from './csv-header.ts';
import { plainRow } from './csv-plain-row.ts';
import type { PlainColumn } from './csv-plain-row.ts';
import { hintFor, LocalClock } from './csv-clock.ts';
import { parseNumber, parseTime } from './csv-values.ts';
import type { Moment } from './csv-values.ts';
import { TIME_MOST_s } from '../format/possible.ts';

/** A CSV that cannot be read, in one sentence with its line. */
export class CsvError extends Error {}

/** Rows that are handed on together. */
const ROWS = 8192;

/** How far down the header may stand: some meters print their settings above it. */
const HEADER_WITHIN_LINES = 100;

/** A longer line is no row of a CSV, and would only fill the memory. */
const LINE_BYTES_MAX = 65536;

const LF = 10,
  CR = 13,
  COMMA = 44,
  QUOTE = 34;

/** A thousand times what a starter battery gives when it is shorted; common practice, no source. */
const CURRENT_MOST_mA = 1e9;
/** Above any traction battery's. */
const VOLTAGE_MOST_V = 10_000;

/** The largest value of each column that can be meant, either sign. */
const MOST = {
  t_s: TIME_MOST_s,
  current: CURRENT_MOST_mA,
  min: CURRENT_MOST_mA,
  max: CURRENT_MOST_mA,
  voltage: VOLTAGE_MOST_V,
};

const OPTIONAL = ['min', 'max', 'voltage'] as const;

export class CsvRows {
  private header: CsvHeader | null = null;
  private problem: string | null = null;
  private firstLine: string | null = null;
  private rest = Buffer.alloc(0);
  private lineNumber = 0;
  private readonly starts = new Int32Array(1024);
  private readonly ends = new Int32Array(1024);
  private readonly rows = {
    t_s: new Float64Array(ROWS),
    current: new Float64Array(ROWS),
    min: new Float64Array(ROWS),
    max: new Float64Array(ROWS),
    voltage: new Float64Array(ROWS),
  };
  private filled = 0;
  /** What `plainRow` makes of each field. */
  private plain: (PlainColumn | null)[] | null = null;
  private last_s = -Infinity;
  private origin: Moment | null = null;
  private readonly clock: LocalClock;
  total = 0;

  /**
   * @param take gets the rows in blocks; the arrays are filled anew when it returns
   * @param localOffset_min see `parseTime`
   */
  constructor(
    private readonly name: string,
    private readonly take: (points: PointColumns) => void,
    localOffset_min: (seconds: number) => number,
  ) {
    this.clock = new LocalClock(localOffset_min);
  }

  /** Wall clock of the first row's time column, milliseconds since 1970; null without one. */
  get start_ms(): number | null {
    return this.origin === null ? null : this.origin.seconds * 1000 + this.origin.nanos / 1e6;
  }

  /** Takes the next bytes of the file. @throws CsvError */
  feed(chunk: Buffer): void {
    let from = 0;
    if (this.rest.length > 0) {
      const end = chunk.indexOf(LF);
      // Only the line that lies in two pieces is put together.
      this.rest = Buffer.concat([this.rest, end < 0 ? chunk : chunk.subarray(0, end)]);
      from = end < 0 ? chunk.length : end + 1;
      if (end >= 0) {
        const line = this.rest;
        this.rest = Buffer.alloc(0);
        this.line(line, 0, line.length);
      }
    }
    for (;;) {
      from = this.plainRows(chunk, from);
      const end = chunk.indexOf(LF, from);
      if (end < 0) break;
      this.line(chunk, from, end);
      from = end + 1;
    }
    // A copy: the stream uses its memory again.
    if (from < chunk.length) this.rest = Buffer.from(chunk.subarray(from));
    if (this.rest.length > LINE_BYTES_MAX)
      this.fail(this.lineNumber + 1, `is over ${LINE_BYTES_MAX} bytes long: no row of a CSV`);
  }

  /** Takes the plain rows from `from` on; returns where the first begins that is not. */
  private plainRows(bytes: Buffer, from: number): number {
    const { header, rows } = this;
    // Which column holds the time is settled by the first row, the careful way.
    if (header === null || header.t_s === null || this.total === 0) return from;
    this.plain ??= plainColumns(header, rows);
    const end = bytes.lastIndexOf(LF) + 1;
    while (from < end) {
      const next = plainRow(bytes, from, this.plain, header.delimiter, this.filled);
      const t_s = rows.t_s[this.filled]!;
      if (next < 0 || !(t_s > this.last_s)) return from;
      from = next;
      this.last_s = t_s;
      this.lineNumber++;
      this.rowTaken();
    }
    return from;
  }

  private rowTaken(): void {
    this.total++;
    if (++this.filled === ROWS) this.flush();
  }

  /** Tells that the file is over. @throws CsvError where it held no row */
  end(): void {
    if (this.rest.length > 0) this.line(this.rest, 0, this.rest.length);
    if (this.header === null) this.failHeader();
    if (this.total === 0) throw new CsvError(`${this.name} has a header but not one sample below it`);
    this.flush();
  }

  private line(bytes: Buffer, from: number, end: number): void {
    this.lineNumber++;
    const to = end > from && bytes[end - 1] === CR ? end - 1 : end;
    const start =
      this.lineNumber === 1 && bytes[from] === 0xef && bytes[from + 1] === 0xbb && bytes[from + 2] === 0xbf
        ? from + 3
        : from;
    if (isBlank(bytes, start, to)) return;
    if (this.header === null) this.findHeader(bytes.toString('utf8', start, to));
    else this.row(bytes, start, to, this.header);
  }

  private findHeader(line: string): void {
    this.firstLine ??= line;
    const found = readHeader(line);
    if (found !== null && !('problem' in found)) {
      this.header = found;
      return;
    }
    if (found !== null)
      this.problem ??= `line ${this.lineNumber} of ${this.name} has ${found.problem}; expected ${EXPECTED_COLUMNS}`;
    if (this.lineNumber >= HEADER_WITHIN_LINES) this.failHeader();
  }

  private failHeader(): never {
    if (this.problem !== null) throw new CsvError(this.problem);
    if (this.firstLine === null) throw new CsvError(`${this.name} holds nothing but blank lines`);
    const seen = this.firstLine.length > 60 ? `${this.firstLine.slice(0, 60)}...` : this.firstLine;
    throw new CsvError(
      `${this.name} has no known column: expected a header line with ${EXPECTED_COLUMNS}; it begins with '${printable(seen)}'`,
    );
  }

  private row(bytes: Buffer, from: number, to: number, header: CsvHeader): void {
    let source: Buffer = bytes;
    let width = this.split(bytes, from, to, header.delimiter);
    if (width < 0) {
      source = this.unquoted(bytes.toString('latin1', from, to), header.delimiter);
      width = this.fields;
    }
    if (width !== header.width && !this.onlyBlankExtras(source, width, header.width)) this.failWidth(width, header);
    const { rows, filled } = this;
    const comma = header.delimiter !== COMMA;
    rows.t_s[filled] = this.time(source, header, comma);
    rows.current[filled] = this.number(source, header.current, comma, MOST.current);
    for (const role of OPTIONAL) {
      const place = header[role];
      if (place === null) continue;
      const blank = isBlank(source, this.starts[place.index]!, this.ends[place.index]!);
      rows[role][filled] = blank ? NaN : this.number(source, place, comma, MOST[role]);
    }
    this.rowTaken();
  }

  private fields = 0;

  /** Finds the fields of a line. Returns how many, or -1 where a quote makes it no plain line. */
  private split(bytes: Buffer, from: number, to: number, delimiter: number): number {
    let field = 0;
    this.starts[0] = from;
    for (let p = from; p < to; p++) {
      const c = bytes[p]!;
      if (c === delimiter) {
        this.ends[field++] = p;
        if (field === this.starts.length) this.fail(this.lineNumber, `has more than ${field} fields`);
        this.starts[field] = p + 1;
      } else if (c === QUOTE) return -1;
    }
    this.ends[field] = to;
    return field + 1;
  }

  /** The slow way for a line with quotes (RFC 4180 section 2): a quote inside a quoted field is doubled. */
  private unquoted(line: string, delimiter: number): Buffer {
    const separator = String.fromCharCode(delimiter);
    let text = '';
    let quoted = false;
    this.fields = 0;
    this.starts[0] = 0;
    for (let p = 0; p < line.length; p++) {
      const c = line[p]!;
      if (c === '"') {
        if (quoted && line[p + 1] === '"') text += line[p++];
        else quoted = !quoted;
      } else if (c === separator && !quoted) {
        this.ends[this.fields++] = text.length;
        if (this.fields === this.starts.length) this.fail(this.lineNumber, `has more than ${this.fields} fields`);
        this.starts[this.fields] = text.length;
      } else text += c;
    }
    if (quoted) this.fail(this.lineNumber, 'opens a quote and does not close it');
    this.ends[this.fields++] = text.length;
    return Buffer.from(text, 'latin1');
  }

  private onlyBlankExtras(bytes: Buffer, width: number, wanted: number): boolean {
    if (width < wanted) return false;
    for (let field = wanted; field < width; field++)
      if (!isBlank(bytes, this.starts[field]!, this.ends[field]!)) return false;
    return true;
  }

  private failWidth(width: number, header: CsvHeader): never {
    const hint =
      header.delimiter === COMMA && width > header.width
        ? ' (decimal commas need semicolons or tabs between the columns)'
        : '';
    this.fail(
      this.lineNumber,
      `has ${width} ${width === 1 ? 'field' : 'fields'}, expected ${header.width} as in the header${hint}`,
    );
  }

  /** @param most the largest value that can be meant, either sign */
  private number(bytes: Buffer, place: ColumnPlace, comma: boolean, most: number): number {
    const value = parseNumber(bytes, this.starts[place.index]!, this.ends[place.index]!, place.shift, comma);
    if (!Number.isFinite(value))
      this.fail(this.lineNumber, `has '${this.text(bytes, place)}' as ${place.name}, expected a number`);
    if (Math.abs(value) > most)
      this.fail(
        this.lineNumber,
        `has '${this.text(bytes, place)}' as ${place.name}, which no meter at a car can mean; see its unit`,
      );
    return value;
  }

  private text(bytes: Buffer, place: ColumnPlace): string {
    return printable(bytes.toString('utf8', this.starts[place.index], this.ends[place.index]).trim().slice(0, 40));
  }

  private time(bytes: Buffer, header: CsvHeader, comma: boolean): number {
    let t_s: number;
    if (header.time !== null && (header.t_s === null || this.origin === null)) {
      const moment = this.moment(bytes, header.time);
      this.origin ??= moment;
      // Whole nanoseconds stay exact for a hundred days; one division rounds once.
      t_s = ((moment.seconds - this.origin.seconds) * 1e9 + (moment.nanos - this.origin.nanos)) / 1e9;
    } else t_s = 0;
    if (header.t_s !== null) t_s = this.number(bytes, header.t_s, comma, MOST.t_s);
    if (Math.abs(t_s) > TIME_MOST_s)
      this.fail(this.lineNumber, `lies ${Math.round(Math.abs(t_s) / 31_556_952)} years from the first; see its date`);
    if (!(t_s > this.last_s)) {
      const place = (header.t_s ?? header.time)!;
      this.fail(
        this.lineNumber,
        `has ${place.name} '${this.text(bytes, place)}', which does not come after the line before it; times must ascend${header.t_s === null ? hintFor(this.last_s - t_s) : ''}`,
      );
    }
    this.last_s = t_s;
    return t_s;
  }

  private moment(bytes: Buffer, place: ColumnPlace): Moment {
    const moment = parseTime(this.text(bytes, place), (seconds) => this.clock.offsetAt(seconds));
    if (moment === null) {
      this.fail(
        this.lineNumber,
        `has '${this.text(bytes, place)}' as ${place.name}, expected an ISO 8601 time such as 2031-05-04T22:15:00.250Z`,
      );
    }
    return moment;
  }

  private flush(): void {
    const { rows, filled, header } = this;
    this.filled = 0;
    if (filled === 0) return;
    const optional = (role: (typeof OPTIONAL)[number]) =>
      header![role] === null ? null : rows[role].subarray(0, filled);
    this.take({
      t_s: rows.t_s.subarray(0, filled),
      current_mA: rows.current.subarray(0, filled),
      min_mA: optional('min'),
      max_mA: optional('max'),
      voltage_V: optional('voltage'),
    });
  }

  private fail(line: number, what: string): never {
    throw new CsvError(`line ${line} of ${this.name} ${what}`);
  }
}

function plainColumns(
  header: CsvHeader,
  rows: Record<'t_s' | 'current' | (typeof OPTIONAL)[number], Float64Array>,
): (PlainColumn | null)[] {
  const columns = new Array<PlainColumn | null>(header.width).fill(null);
  for (const role of ['t_s', 'current', ...OPTIONAL] as const) {
    const place = header[role];
    if (place !== null) columns[place.index] = { shift: place.shift, most: MOST[role], into: rows[role] };
  }
  return columns;
}

function isBlank(bytes: Buffer, from: number, to: number): boolean {
  for (let p = from; p < to; p++) if (bytes[p] !== 32 && bytes[p] !== 9 && bytes[p] !== 12) return false;
  return true;
}

const printable = (text: string) => text.replace(/[^\x20-\x7e\u00a0-\uffff]/g, '?');
