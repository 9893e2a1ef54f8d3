// How much current a board can measure, from what it reports about itself.

import type { Run } from '../../contract/capture.ts';

/**
 * Upper end of the range in mA, the smallest of all boards in a recording: the chip's range over the
 * shunt. Null for no boards, or where one did not report its range (firmware before 0.2). O(runs).
 */
export function fullScaleOf_mA(runs: readonly Run[]): number | null {
  const least = Math.min(
    ...runs.map(({ hello, limits }) =>
      limits === null || limits === undefined ? NaN : (limits.range_uV * 1e6) / hello.shunt_nOhm,
    ),
  );
  return runs.length > 0 && Number.isFinite(least) ? least : null;
}
