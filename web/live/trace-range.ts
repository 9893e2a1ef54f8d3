// Which currents and which stretch of time the live trace shows. Pure.

import type { LiveWindow } from '../../host/contract/api.ts';
import { currentRange } from '../chart/scales.ts';
import type { CurrentRange, CurrentScaleKind } from '../chart/scales.ts';

/** A quiet current is not magnified into a storm: so much is shown at least, of the level or in mA. */
const LEAST_SHARE = 0.1;
const LEAST_MA = 10;
/** Air above and below. */
const AIR = 0.12;
/** The picture closes in again only where less than this share of it is used: it must not breathe. */
const CLOSE_IN = 0.55;

/** What the windows from `from_s` on need; linear ranges fit what is seen instead of beginning at zero. */
export function wantedRange(windows: readonly LiveWindow[], from_s: number, kind: CurrentScaleKind): CurrentRange {
  let low = Infinity,
    high = -Infinity;
  for (const [t_s, , , min, max] of windows) {
    if (t_s < from_s) continue;
    low = Math.min(low, min);
    high = Math.max(high, max);
  }
  if (low > high) return { low_mA: 0, high_mA: 100 };
  if (kind === 'log') return currentRange('log', low, high);
  const least_mA = Math.max(LEAST_MA, LEAST_SHARE * Math.max(Math.abs(low), Math.abs(high)));
  const middle = (low + high) / 2;
  const half = Math.max(high - low, least_mA) * (0.5 + AIR);
  return { low_mA: middle - half, high_mA: middle + half };
}

/** Opens at once, closes in late. */
export function steadyRange(shown: CurrentRange | null, wanted: CurrentRange): CurrentRange {
  if (shown === null) return wanted;
  const fits = wanted.low_mA >= shown.low_mA && wanted.high_mA <= shown.high_mA;
  const used = (wanted.high_mA - wanted.low_mA) / (shown.high_mA - shown.low_mA);
  if (fits && used >= CLOSE_IN) return shown;
  if (fits) return wanted;
  return { low_mA: Math.min(wanted.low_mA, shown.low_mA), high_mA: Math.max(wanted.high_mA, shown.high_mA) };
}

/** A spacing of more than this is no reading: the board sends twenty times a second. */
const GAP_S = 1;

/** Stretches without readings between `from_s` and `edge_s`. */
export function gapsOf(windows: readonly LiveWindow[], from_s: number, edge_s: number): [number, number][] {
  const gaps: [number, number][] = [];
  windows.forEach(([t_s, dur_s], i) => {
    const before_s = windows[i - 1]?.[0];
    if (before_s !== undefined && t_s > from_s && t_s - dur_s - before_s > GAP_S)
      gaps.push([Math.max(before_s, from_s), t_s - dur_s]);
  });
  const last_s = windows.at(-1)?.[0];
  if (last_s !== undefined && edge_s - last_s > GAP_S) gaps.push([Math.max(last_s, from_s), edge_s]);
  return gaps;
}
