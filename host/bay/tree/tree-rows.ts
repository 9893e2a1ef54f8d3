// The rows of a feed tree as a spreadsheet writes them: comma, semicolon or tab,
// quotes as RFC 4180 section 2 has them, columns found by their header.

import type { FeedType } from './tree.ts';

export interface TreeRow {
  line: number;
  box: string;
  position: string;
  rating_A: number | null;
  type: FeedType;
  feeds: string[];
  /** The technician wants it left as it is. */
  alone: boolean;
}

/** Something wrong in the file, or worth a look; `line` counts from 1. */
export interface Complaint {
  line: number;
  text: string;
}

const COLUMNS = ['box', 'position', 'rating', 'type', 'feeds', 'leave alone'] as const;
type Column = (typeof COLUMNS)[number];

/** Other spellings of a header that mean the same. */
const HEADER: Record<string, Column> = {
  rating_a: 'rating',
  'rating (a)': 'rating',
  amps: 'rating',
  pos: 'position',
  slot: 'position',
  fuse: 'position',
  leave_alone: 'leave alone',
  'leave-alone': 'leave alone',
};

/** What the column `leave alone` may hold. */
const LEFT_ALONE: Record<string, boolean> = {
  '': false,
  no: false,
  n: false,
  false: false,
  0: false,
  yes: true,
  y: true,
  x: true,
  true: true,
  1: true,
  'leave alone': true,
};

const TYPES: Record<string, FeedType> = {
  regular: 'regular',
  blade: 'regular',
  standard: 'regular',
  miniature: 'miniature',
  mini: 'miniature',
  'low profile': 'miniature',
  micro: 'micro',
  large: 'large',
  maxi: 'large',
  cartridge: 'large',
  bolted: 'bolted',
  link: 'bolted',
  relay: 'relay',
};

/** Fuses of a car's 12 V side: from the smallest blade to the largest bolted link (common practice, no source). */
const RATING_A_MIN = 0.5;
const RATING_A_MAX = 500;
/** Blade fuses end here by type (regular: ISO 8820-3; the others common practice, no source). */
const BLADE_A_MAX: Partial<Record<FeedType, number>> = { regular: 40, miniature: 30, micro: 30 };

/**
 * Reads the rows. Wrong ones are complained of and left out. Blank lines and lines that begin with # are passed over.
 */
export function readRows(text: string): { rows: TreeRow[]; complaints: Complaint[] } {
  const records = splitRecords(text);
  const complaints: Complaint[] = [];
  const [head, ...rest] = records.filter(
    ({ cells }) => cells.some((cell) => cell !== '') && !cells[0]!.startsWith('#'),
  );
  if (head === undefined)
    return {
      rows: [],
      complaints: [
        {
          line: 1,
          text: 'the file holds no rows; the first one names the columns: box, position, rating, type, feeds',
        },
      ],
    };
  const places = new Map<Column, number>();
  head.cells.forEach((cell, i) => {
    const name = cell.toLowerCase();
    const column = HEADER[name] ?? COLUMNS.find((known) => known === name);
    if (column === undefined) return;
    if (places.has(column)) complaints.push({ line: head.line, text: `the column '${column}' is there twice` });
    places.set(column, i);
  });
  const missing = (['position', 'feeds'] as const).filter((column) => !places.has(column));
  if (missing.length > 0)
    return {
      rows: [],
      complaints: [
        {
          line: head.line,
          text: `no column '${missing.join("' and no column '")}'; the first row names the columns: box, position, rating, type, feeds`,
        },
      ],
    };
  const named = head.cells.findLastIndex((cell) => cell !== '') + 1;
  const rows = rest.flatMap(({ line, cells, open }) => {
    if (open) complaints.push({ line, text: 'a quote is opened and not closed' });
    const past = cells.slice(named).filter((one) => one !== '');
    // Behind another column it may be somebody's note.
    if (past.length > 0 && places.get('feeds') === named - 1)
      complaints.push({
        line,
        text: `'${past.join("', '")}' ${past.length === 1 ? 'stands' : 'stand'} past the last column; write all that a fuse feeds into one cell, with a semicolon between two names, and that cell in quotes`,
      });
    const cell = (column: Column) => cells[places.get(column) ?? -1] ?? '';
    const row = readRow(line, cell, complaints);
    return row === null ? [] : [row];
  });
  return { rows, complaints };
}

function readRow(line: number, cell: (column: Column) => string, complaints: Complaint[]): TreeRow | null {
  const position = cell('position');
  if (position === '') {
    complaints.push({ line, text: 'the position is empty; write the number that stands at the fuse, such as F12' });
    return null;
  }
  const written = cell('type').toLowerCase();
  const type = written === '' ? 'regular' : TYPES[written];
  if (type === undefined)
    complaints.push({
      line,
      text: `'${cell('type')}' is not a type of fuse; there are regular, miniature, micro, large, bolted and relay`,
    });
  const feeds = cell('feeds')
    .split(/[,;\n]/)
    .map((name) => name.trim())
    .filter((name) => name !== '');
  const alone = LEFT_ALONE[cell('leave alone').toLowerCase()];
  if (alone === undefined)
    complaints.push({
      line,
      text: `'${cell('leave alone')}' in the column 'leave alone' is not understood; write yes, or leave it empty`,
    });
  return {
    line,
    box: cell('box'),
    position,
    type: type ?? 'regular',
    feeds,
    alone: alone ?? true,
    rating_A: readRating(line, position, cell('rating'), type ?? 'regular', complaints),
  };
}

function readRating(
  line: number,
  position: string,
  text: string,
  type: FeedType,
  complaints: Complaint[],
): number | null {
  if (text === '') {
    if (type !== 'relay') complaints.push({ line, text: `${position} has no rating; write it in amperes, such as 10` });
    return null;
  }
  const rating_A = Number(text.replace(/\s*A$/i, '').replace(',', '.'));
  if (Number.isNaN(rating_A))
    complaints.push({ line, text: `the rating '${text}' of ${position} is not a number of amperes` });
  else if (!(rating_A >= RATING_A_MIN && rating_A <= RATING_A_MAX))
    complaints.push({
      line,
      text: `the rating ${text} A of ${position} cannot be: fuses go from ${RATING_A_MIN} to ${RATING_A_MAX} A`,
    });
  else if (rating_A > (BLADE_A_MAX[type] ?? Infinity))
    complaints.push({
      line,
      text: `the rating ${text} A of ${position} cannot be: a ${type} fuse ends at ${BLADE_A_MAX[type]} A; is it large or bolted?`,
    });
  else return rating_A;
  return null;
}

export interface TextRecord {
  line: number;
  cells: string[];
  /** A quote was still open at the end of the file. */
  open: boolean;
}

/** A first line that names the delimiter, as some spreadsheets write and want it. */
const SEPARATOR = /^sep=([,;\t])\n/i;

/** Lines as a spreadsheet writes them, whatever ends them, cells trimmed; a byte order mark is passed over. */
export function splitRecords(written: string): TextRecord[] {
  const whole = written.replace(/^\uFEFF/, '').replace(/\r\n?/g, '\n');
  const said = SEPARATOR.exec(whole);
  const text = said === null ? whole : whole.slice(said[0].length);
  const delimiter = said?.[1] ?? delimiterOf(text);
  const records: TextRecord[] = [];
  let cells: string[] = [],
    cell = '',
    quoted = false,
    line = said === null ? 1 : 2,
    start = line;
  const endCell = () => (cells.push(cell.trim()), (cell = ''));
  const endRecord = () => {
    endCell();
    records.push({ line: start, cells, open: quoted });
    cells = [];
    start = line;
  };
  for (let i = 0; i < text.length; i++) {
    const c = text[i]!;
    if (c === '\n') line++;
    if (quoted) {
      if (c !== '"') cell += c;
      else if (text[i + 1] === '"') cell += text[i++];
      else quoted = false;
    } else if (c === '"' && cell.trim() === '') quoted = true;
    else if (c === delimiter) endCell();
    else if (c === '\n') endRecord();
    else cell += c;
  }
  if (cell !== '' || cells.length > 0) endRecord();
  return records;
}

/** The one of comma, semicolon and tab that the header has most of. */
function delimiterOf(text: string): string {
  const head = text.split('\n').find((line) => line.trim() !== '' && !line.trim().startsWith('#')) ?? '';
  const counts = [',', ';', '\t'].map((mark) => ({ mark, count: head.split(mark).length }));
  return counts.reduce((best, next) => (next.count > best.count ? next : best)).mark;
}
