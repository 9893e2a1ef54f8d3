// Changes to a capture that leave its readings alone: marks, a later calibration, and
// what it says of the job, the car, the battery and people.

import { forgetBay } from './bay-log.ts';
import { putInfo } from './create.ts';
import { TEXT_BYTES_MOST } from '../format/possible.ts';
import { openDatabase, requireOurs, upgrade } from '../format/schema.ts';
import type { Db } from '../format/schema.ts';
import { openCapture } from '../read/reader.ts';
import { readInfoValues } from '../format/shapes.ts';
import type { InfoValues } from '../format/shapes.ts';
import type { BatteryFacts, Calibration, CarFacts, Personal } from '../../contract/capture.ts';

/** What may name a person or a car. All of it is optional, and leaves the capture by one command. */
export const PRIVATE_KEYS = ['job', 'plate', 'vehicle', 'customer', 'checked_by'] as const;

/** Sets a mark. @throws Error in one sentence where the time lies outside the recording, or the file refuses */
export function addMark(path: string, t_s: number, text: string): void {
  const capture = openCapture(path);
  const { duration_s } = capture.info();
  const zero_us = capture.zero_us();
  capture.close();
  if (!(t_s >= 0 && t_s <= duration_s))
    throw new Error(`a mark at ${t_s} s lies outside the recording, which is ${duration_s.toFixed(1)} s long`);
  if (Buffer.byteLength(text) > TEXT_BYTES_MOST)
    throw new Error(`a mark of ${Buffer.byteLength(text)} bytes is too long; ${TEXT_BYTES_MOST} are the most`);
  change(path, (db) => db.prepare('INSERT INTO mark (axis_us, text) VALUES (?, ?)').run(zero_us + t_s * 1e6, text));
}

/**
 * Gain and offset of a board are refused beyond these, as the board itself does (firmware/PROTOCOL.md, commands `g` and
 * `z`).
 */
const SHUNT_MAX_nOhm = 1e9;

/**
 * Adds a later calibration, which readers then apply; what the board said stays beside it.
 * It stands by itself: a value that is null is the board's own, whatever an earlier row had.
 * A capture of an older format is brought to this one.
 * @throws Error in one sentence where it was imported, where a value is none, or the file refuses
 */
export function addCalibration(path: string, row: Calibration): void {
  const capture = openCapture(path);
  const { kind } = capture.info();
  capture.close();
  if (kind === 'imported')
    throw new Error(`${path} was imported: its currents are another meter's, and no shunt of ours scales them`);
  const { shunt_nOhm, gain_ppm, offset_nV } = row;
  if (shunt_nOhm !== null && !(shunt_nOhm > 0 && shunt_nOhm <= SHUNT_MAX_nOhm))
    throw new Error(`a shunt of ${shunt_nOhm} nOhm is not from 1 to ${SHUNT_MAX_nOhm}`);
  if (gain_ppm !== null && !(gain_ppm > -1e6))
    throw new Error(`a gain of ${gain_ppm} ppm would turn every current round`);
  if (offset_nV !== null && !Number.isFinite(offset_nV)) throw new Error(`an offset of ${offset_nV} nV is no number`);
  change(path, (db) => {
    upgrade(db);
    db.prepare('INSERT INTO calibration (made_ms, reason, shunt_nOhm, gain_ppm, offset_nV) VALUES (?, ?, ?, ?, ?)').run(
      row.made_ms,
      row.reason,
      shunt_nOhm,
      gain_ppm,
      offset_nV,
    );
  });
}

/** What can be told of a capture after it was made. A field that is null is taken out, one that is absent stays. */
export interface Told {
  job?: string | null;
  personal?: { [K in keyof Personal]: Personal[K] | null };
  car?: { [K in keyof CarFacts]: CarFacts[K] | null };
  battery?: { [K in keyof BatteryFacts]: BatteryFacts[K] | null };
}

/** @throws Error in one sentence where a value is none, or the file refuses */
export function tell(path: string, told: Told): void {
  change(path, (db) => {
    const before = readInfoValues(
      path,
      db.prepare('SELECT key, value FROM info').all() as { key: string; value: string }[],
    );
    const put: Partial<InfoValues> & Personal = {};
    if (told.job !== undefined) put.job = told.job;
    if (told.car !== undefined) put.car = merged(before.car, told.car);
    if (told.battery !== undefined) put.battery = merged(before.battery, told.battery);
    for (const [key, value] of Object.entries(told.personal ?? {})) {
      if (value === null) db.prepare('DELETE FROM info WHERE key = ?').run(key);
      else put[key as keyof Personal] = value;
    }
    putInfo(db, put);
    // What was written must read back: a wrong value is refused here, and the transaction with it.
    readInfoValues(path, db.prepare('SELECT key, value FROM info').all() as { key: string; value: string }[]);
  });
}

function merged<T extends object>(before: T | undefined, told: { [K in keyof T]?: T[K] | null | undefined }): T {
  return Object.fromEntries(
    Object.entries({ ...before, ...told }).filter(([, value]) => value !== null && value !== undefined),
  ) as T;
}

/**
 * Takes out all that may name a person or a car: job, number plate, vehicle identity, customer, who proved
 * the board, the note on the car, the texts of marks, and the name of an imported file. The file is written
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
    const { car = {}, origin } = readInfoValues(
      path,
      db.prepare('SELECT key, value FROM info').all() as { key: string; value: string }[],
    );
    if (car.note !== undefined) {
      putInfo(db, { car: merged(car, { note: null }) });
      found.push('note');
    }
    if (db.prepare("UPDATE mark SET text = '' WHERE text <> ''").run().changes > 0) found.push('marks');
    if (forgetBay(db)) found.push('bay');
    if (JSON.stringify(origin).includes('"imported"')) {
      putInfo(db, { origin: null });
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

/**
 * Does `work` in one transaction. @throws Error in one sentence where the file is no capture, refuses, or would be none
 * afterwards
 */
export function change(path: string, work: (db: Db) => void): void {
  const db = openDatabase(path, { readonly: false });
  try {
    // What is taken out is in none of the file's bytes afterwards.
    db.pragma('secure_delete = ON');
    db.transaction(() => {
      work(db);
      requireOurs(db, path);
    }).immediate();
  } finally {
    db.close();
  }
}
