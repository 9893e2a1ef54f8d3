// What a report is made from, and the tables that it holds. Types alone.

import type { Overview } from '../contract/api.ts';
import type { NightMeaning } from '../analysis/meaning/interpret.ts';
import type { ClosingItem, RepairResult } from '../bay/work/repair.ts';
import type { BayResults } from '../bay/work/results.ts';
import type { CaptureInfo, Personal } from '../contract/capture.ts';

export interface ReportSource {
  night: NightMeaning;
  /** Null for a CSV. */
  info: CaptureInfo | null;
  /** Empty unless the person at the keyboard asked for it. */
  personal: Personal;
  workshop: string | null;
  /** PNG, JPEG or SVG as a data address; null without one. */
  logo: { href: string; ratio: number } | null;
  /** The name of the file that was read, without its folder. */
  fileName: string;
  /** What was done in the bay; null where nothing is told of it. */
  bay: null | BaySource;
  /** The night before the repair; null where there is none to compare with. */
  before: null | BeforeSource;
}

export interface BaySource {
  results: BayResults;
  /** The file that keeps it, without its folder. */
  fileName: string;
  /** Its first sample, ISO 8601; null without a clock. */
  start: string | null;
}

export interface BeforeSource {
  fileName: string;
  whole: Overview;
  after_s: number | null;
  result: RepairResult;
  /** What is to be done before the car goes. */
  closing: readonly ClosingItem[];
}

export interface Table {
  head: string[];
  rows: string[][];
  /** What stands below, such as how many rows are left out. */
  note: string;
}
