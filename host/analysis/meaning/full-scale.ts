// How much current a board can read, from what it says of itself.

import type { Run } from '../../contract/capture.ts';

/** Full scale in mA, the smallest of all boards in the recording; null where one did not tell (firmware before 0.2). */
export function fullScaleOf_mA(runs: readonly Run[]): number | null {
  const least = Math.min(
    ...runs.map(({ hello, limits }) =>
      limits === null || limits === undefined ? NaN : (limits.range_uV * 1e6) / hello.shunt_nOhm,
    ),
  );
  return runs.length > 0 && Number.isFinite(least) ? least : null;
}
