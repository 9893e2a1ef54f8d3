// Opens whatever holds a trace, capture or CSV, by what is in the file, not by its name.

import { readCsv } from '../capture/exchange/csv.ts';
import { openIfCapture } from '../capture/read/reader.ts';
import type { ReadOptions } from '../capture/read/reader.ts';
import type { CaptureInfo, Trace, VoltageTrace } from '../contract/capture.ts';

export interface OpenedTrace {
  trace: Trace;
  voltage: VoltageTrace | null;
  /** Null for a CSV. */
  info: CaptureInfo | null;
  /** What the board told of itself, by trace time; empty for a CSV. */
  statuses: { t_s: number; code: string }[];
  /** Whether it holds work in the bay. */
  bay: boolean;
}

/**
 * Reads the trace of a capture or of a CSV.
 * @throws Error in one sentence: not there, empty, neither of both, damaged, newer than this version,
 *   or without any sample.
 */
export async function openTrace(path: string, options: ReadOptions = {}): Promise<OpenedTrace> {
  const capture = openIfCapture(path, options);
  if (capture === null) return { ...(await readCsv(path)), info: null, statuses: [], bay: false };
  try {
    const info = capture.info();
    if (info.samples === 0) {
      throw new Error(
        info.state === 'recording'
          ? `${path} is an unfinished recording that shows no sample; if it was copied, copy ${path}-wal with it, else it was stopped before the first one`
          : `${path} holds no sample: its recording was stopped before the first one`,
      );
    }
    return {
      trace: capture.trace(),
      voltage: capture.voltage(),
      info,
      statuses: capture.statuses(),
      bay: capture.hasBay(),
    };
  } finally {
    capture.close();
  }
}
