// A fuse list that was typed into the page, as the CSV that any other list comes as. Pure.

export const TYPES = ['regular', 'miniature', 'micro', 'large', 'bolted', 'relay'] as const;

export interface ListRow {
  box: string;
  position: string;
  rating: string;
  type: (typeof TYPES)[number];
  /** Names with commas between them. */
  feeds: string;
  alone: boolean;
}

export const EMPTY_ROW: ListRow = { box: '', position: '', rating: '', type: 'regular', feeds: '', alone: false };

/** The type comes first: a line that begins with # would be a remark, and a box may be called so. */
const HEAD = 'type,box,position,rating,feeds,leave alone';

/** Whether nothing was typed into it; the box is taken over from the row before. */
const isBlank = ({ position, rating, feeds }: ListRow) => [position, rating, feeds].every((text) => text.trim() === '');

/**
 * Blank rows are left out.
 * @returns also which row stands in which line of the text, by the line's number from 1
 */
export function listText(rows: readonly ListRow[]): { text: string; rowOfLine: Map<number, number> } {
  const rowOfLine = new Map<number, number>();
  const lines = [HEAD];
  rows.forEach((row, i) => {
    if (isBlank(row)) return;
    const { type, box, position, rating, feeds, alone } = row;
    lines.push([type, box, position, rating, feeds, alone ? 'yes' : ''].map(cellOf).join(','));
    rowOfLine.set(lines.length, i);
  });
  return { text: `${lines.join('\n')}\n`, rowOfLine };
}

/** In quotes where it holds what would end a cell (RFC 4180, section 2). */
function cellOf(typed: string): string {
  const text = typed.replace(/\s+/g, ' ').trim();
  return /[",;]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
}

/** Rows as this page wrote them down; none where it was something else. */
export function rowsOfText(kept: string | null): ListRow[] {
  try {
    const rows: unknown = JSON.parse(kept ?? '[]');
    return Array.isArray(rows) ? rows.filter(isRow) : [];
  } catch {
    return [];
  }
}

function isRow(row: unknown): row is ListRow {
  if (typeof row !== 'object' || row === null) return false;
  const { box, position, rating, type, feeds, alone } = row as Record<string, unknown>;
  const texts = [box, position, rating, feeds].every((text) => typeof text === 'string');
  return texts && typeof alone === 'boolean' && TYPES.some((one) => one === type);
}
