// Changes to a finished capture that leave its readings alone: marks, and what it says
// of people and cars.

import { forgetBay } from './bay-log.ts';
import { openDatabase } from './schema.ts';
import type { Db } from './schema.ts';
import { openCapture } from './reader.ts';

/** What may name a person or a car. All of it is optional, and leaves the capture by one command. */
export const PRIVATE_KEYS = ['job', 'plate', 'vehicle', 'customer'] as const;

/** Sets a mark. @throws Error in one sentence where the time lies outside the recording, or the file refuses */
export function addMark(path: string, t_s: number, text: string): void {
  const capture = openCapture(path);
  const { duration_s } = capture.info();
  const zero_us = capture.zero_us();
  capture.close();
  if (!(t_s >= 0 && t_s <= duration_s)) throw new Error(`a mark at ${t_s} s lies outside the recording, which is ${duration_s.toFixed(1)} s long`);
  change(path, (db) => db.prepare('INSERT INTO mark (axis_us, text) VALUES (?, ?)').run(zero_us + t_s * 1e6, text));
}

/**
 * Takes out all that may name a person or a car: job, number plate, vehicle identity,
 * customer, the texts of marks, and the name of an imported file. The file is written
 * anew, so that the words are in none of its bytes.
 * @returns what was taken out
 */
export function forgetPrivate(path: string): string[] {
  const found: string[] = [];
  change(path, (db) => {
    for (const key of PRIVATE_KEYS) {
      const value = db.prepare('SELECT value FROM info WHERE key = ?').pluck().get(key) as string | undefined;
      if (value !== undefined && value !== 'null') found.push(key);
      if (key === 'job') db.prepare("UPDATE info SET value = 'null' WHERE key = 'job'").run();
      else db.prepare('DELETE FROM info WHERE key = ?').run(key);
    }
    if (db.prepare("UPDATE mark SET text = '' WHERE text <> ''").run().changes > 0) found.push('marks');
    if (forgetBay(db)) found.push('bay');
    const origin = db.prepare("SELECT value FROM info WHERE key = 'origin'").pluck().get() as string;
    if (origin.includes('"imported"')) {
      db.prepare("UPDATE info SET value = 'null' WHERE key = 'origin'").run();
      found.push('origin');
    }
  });
  const db = openDatabase(path, { readonly: false });
  try {
    db.exec('VACUUM');
  } finally {
    db.close();
  }
  return found;
}

function change(path: string, work: (db: Db) => void): void {
  const db = openDatabase(path, { readonly: false });
  try {
    db.pragma('secure_delete = ON');
    db.transaction(() => work(db)).immediate();
  } finally {
    db.close();
  }
}
