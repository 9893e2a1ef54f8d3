// The record of work in the bay, kept in the capture: every entry of a session with its
// time, and the session's last state, so that it can be gone on with. SPEC.md has the
// tables; they are there only where there was such work.

import { BAY_TABLES, openDatabase } from '../format/schema.ts';
import type { Db } from '../format/schema.ts';

export interface BayEntry {
  /** Trace time, seconds from the first sample. */
  t_s: number;
  code: string;
  text: string;
}

/** Appends to a capture, beside whoever records into it. */
export class BayLog {
  private readonly db: Db;

  /** @throws Error in one sentence as `openDatabase` */
  constructor(path: string) {
    this.db = openDatabase(path, { readonly: false });
    this.db.pragma('synchronous = FULL');
    this.db.exec(BAY_TABLES);
  }

  /** Entries and state in one transaction: what is returned from is on the disk. */
  append(entries: readonly BayEntry[], state: string): void {
    this.db
      .transaction(() => {
        const insert = this.db.prepare('INSERT INTO bay (t_s, code, text) VALUES (?, ?, ?)');
        for (const { t_s, code, text } of entries) insert.run(t_s, code, text);
        this.db
          .prepare(
            'INSERT INTO bay_state (id, state) VALUES (1, ?) ON CONFLICT (id) DO UPDATE SET state = excluded.state',
          )
          .run(state);
      })
      .immediate();
  }

  close(): void {
    this.db.close();
  }
}

/**
 * What a capture holds of work in the bay; null where there was none.
 * @throws Error in one sentence as `openDatabase`
 */
export function readBay(path: string): { entries: BayEntry[]; state: string } | null {
  const db = openDatabase(path, { readonly: true });
  try {
    const there = db
      .prepare("SELECT count(*) FROM sqlite_master WHERE type = 'table' AND name IN ('bay', 'bay_state')")
      .pluck()
      .get() as number;
    if (there < 2) return null;
    const state = db.prepare('SELECT state FROM bay_state WHERE id = 1').pluck().get() as string | undefined;
    if (state === undefined) return null;
    return { entries: db.prepare('SELECT t_s, code, text FROM bay ORDER BY id').all() as BayEntry[], state };
  } finally {
    db.close();
  }
}

/**
 * Takes out what was noted by hand: evidence and its sources may name people. What was found stays. @returns whether
 * there was any
 */
export function forgetBay(db: Db): boolean {
  const there = db
    .prepare("SELECT count(*) FROM sqlite_master WHERE type = 'table' AND name IN ('bay', 'bay_state')")
    .pluck()
    .get() as number;
  if (there < 2) return false;
  const evidence = db.prepare("UPDATE bay SET text = '' WHERE code = 'evidence' AND text <> ''").run().changes;
  const state = db.prepare('SELECT state FROM bay_state WHERE id = 1').pluck().get() as string | undefined;
  const scrubbed = state === undefined ? null : withoutWords(state);
  if (scrubbed === null) db.prepare('DELETE FROM bay_state').run();
  else db.prepare('UPDATE bay_state SET state = ? WHERE id = 1').run(scrubbed);
  return evidence > 0 || (state ?? null) !== scrubbed;
}

interface Worded {
  session?: { evidence?: { text?: string; source?: string }[]; log?: { code?: string; text?: string }[] };
}

/**
 * The same state, with what was noted by hand left out: what was measured and found stays. Null where it cannot be told
 * apart.
 */
function withoutWords(state: string): string | null {
  try {
    const work = JSON.parse(state) as Worded;
    for (const piece of work.session!.evidence!) piece.text = piece.source = '';
    for (const entry of work.session!.log!) if (entry.code === 'evidence') entry.text = '';
    return JSON.stringify(work);
  } catch {
    return null;
  }
}
