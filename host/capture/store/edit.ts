// What somebody changes by hand in a capture afterwards: what it says of its job, and
// marks that were set by mistake. Its readings stay as they are.

import { change } from './amend.ts';
import { openCapture } from '../read/reader.ts';

export interface JobDetails {
  job: string;
  plate: string;
  vehicle: string;
  customer: string;
}

/** How far from the given time a mark may lie: what a page shows is rounded. */
const NEAR_US = 10_000;

/** @throws Error in one sentence where the file is no capture */
export function readDetails(path: string): JobDetails {
  const capture = openCapture(path);
  try {
    const { plate = '', vehicle = '', customer = '' } = capture.personal();
    return { job: capture.info().job ?? '', plate, vehicle, customer };
  } finally {
    capture.close();
  }
}

/**
 * Sets what is given; an empty text takes the fact out of the file. @throws Error in one sentence where the file
 * refuses
 */
export function setDetails(path: string, details: Partial<JobDetails>): void {
  change(path, (db) => {
    const put = db.prepare('INSERT OR REPLACE INTO info (key, value) VALUES (?, ?)');
    for (const [key, text] of Object.entries(details)) {
      // The job is a fact that every capture has, if only null.
      if (key === 'job') put.run(key, JSON.stringify(text === '' ? null : text));
      else if (text === '') db.prepare('DELETE FROM info WHERE key = ?').run(key);
      else put.run(key, JSON.stringify(text));
    }
  });
}

/** @returns false where there is no such mark. @throws Error in one sentence where the file refuses */
export function removeMark(path: string, t_s: number, text: string): boolean {
  const capture = openCapture(path);
  const axis_us = capture.zero_us() + t_s * 1e6;
  capture.close();
  let found = false;
  change(path, (db) => {
    const id = db
      .prepare('SELECT id FROM mark WHERE text = ? AND abs(axis_us - ?) <= ? ORDER BY abs(axis_us - ?) LIMIT 1')
      .pluck()
      .get(text, axis_us, NEAR_US, axis_us);
    found = id !== undefined;
    if (found) db.prepare('DELETE FROM mark WHERE id = ?').run(id);
  });
  return found;
}
