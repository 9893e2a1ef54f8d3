// The definition of a wake-up in which the whole car wakes and goes to sleep anew: long, high, and
// coming down in steps.

import type { WakeUp } from '../../contract/findings.ts';

/**
 * Least length, height and number of steps down inside it. A disturbed car draws about 300 mA: a
 * carmaker's workshop manual, 2021.
 */
const STAIRS_S = 240;
const STAIRS_MA = 200;
const STAIRS_DOWN = 2;
/** Its last level lies under this share of its highest one, both above the base. */
const LAST_SHARE = 0.6;

/**
 * True when a wake-up is the whole car going to sleep anew. O(steps in it).
 *
 * @param base_mA the level that it stands on
 */
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
