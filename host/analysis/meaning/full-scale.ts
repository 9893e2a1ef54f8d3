// How much current a board can read, from what it says of itself.

import type { Run } from '../../capture/types.ts';

/** Widest shunt voltage either way: INA228 data sheet SLYS021, INA226 data sheet SBOS547. */
const RANGE_UV: Record<string, number> = { ina228: 163_840, ina226: 81_920 };

/** Full scale in mA, the smallest of all boards in the recording; null where one is not known. */
export function fullScaleOf_mA(runs: readonly Run[]): number | null {
  const scales = runs.map(({ hello }) => {
    const range_uV = RANGE_UV[hello.sensor.toLowerCase()];
    return range_uV === undefined || !(hello.shunt_nOhm > 0) ? NaN : (range_uV * 1e6) / hello.shunt_nOhm;
  });
  const least = Math.min(...scales);
  return scales.length > 0 && Number.isFinite(least) ? least : null;
}
