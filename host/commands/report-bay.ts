// What `report` tells besides the night itself: the work in the bay, kept in the same
// capture or in another one, and the night before the repair.

import { basename } from 'node:path';
import type { NightMeaning } from '../analysis/meaning/interpret.ts';
import { CLOSING_LIST, compareRepair } from '../bay/work/repair.ts';
import { openCapture } from '../capture/read/reader.ts';
import type { OpenedTrace } from '../night/open.ts';
import type { BaySource, BeforeSource } from '../report/source.ts';
import { BINS } from '../report/night-picture.ts';
import { overviewOf } from '../night/overview.ts';
import { resultsIn } from './bay-results.ts';
import { tell } from './tell.ts';

/**
 * @param other a capture with the work in it; null: that of the night itself, if it holds any
 * @throws Error where `other` is given and holds none
 */
export function baySource(path: string, { trace, info }: OpenedTrace, other: string | null): BaySource | null {
  if (other === null) {
    const results = resultsIn(path, info, tell);
    return results === null
      ? null
      : {
          results,
          fileName: basename(path),
          start: trace.start_ms === null ? null : new Date(trace.start_ms).toISOString(),
        };
  }
  const capture = openCapture(other);
  try {
    const about = capture.info();
    const results = resultsIn(other, about, tell);
    if (results === null)
      throw new Error(`${other} holds no work in the bay; give the capture that 'nightdraw bay --out' wrote`);
    return {
      results,
      fileName: basename(other),
      start: about.start_ms === null ? null : new Date(about.start_ms).toISOString(),
    };
  } finally {
    capture.close();
  }
}

/** @param path of the night before, `before` what it means by the same settings */
export function beforeSource(
  path: string,
  opened: OpenedTrace,
  before: NightMeaning,
  after: NightMeaning,
): BeforeSource {
  return {
    fileName: basename(path),
    after_s: before.asleep?.after_s ?? null,
    result: compareRepair(before, after),
    closing: CLOSING_LIST,
    whole: overviewOf(opened.trace)(0, before.trace.duration_s, BINS),
  };
}
