// A wake-up that is the whole car going to sleep anew: long, high, and down in steps.

import type { WakeUp } from '../../contract/findings.ts';

/**
 * So long at least, this high, with so many steps down inside it. About 300 mA when disturbed: a carmaker's workshop
 * manual, 2021.
 */
const STAIRS_S = 240;
const STAIRS_MA = 200;
const STAIRS_DOWN = 2;
/** It ends well under its top. */
const LAST_SHARE = 0.6;

/** @param base_mA the level that it stands on */
export function isGoingToSleepAnew(w: WakeUp, base_mA: number): boolean {
  const down = w.steps.filter((s) => s.to_mA < s.from_mA).length;
  const up = w.steps.length - down;
  const top_mA = Math.max(...w.steps.map((s) => s.from_mA), -Infinity);
  const last_mA = w.steps.at(-1)?.to_mA ?? Infinity;
  return (
    w.end_s - w.start_s >= STAIRS_S &&
    down >= STAIRS_DOWN &&
    up <= 1 &&
    top_mA - base_mA >= STAIRS_MA &&
    last_mA - base_mA < LAST_SHARE * (top_mA - base_mA)
  );
}
