// Warnings about the board itself: a current beyond its range, a zero that drifts with its temperature,
// gaps of unknown charge, faults, and boots that nobody asked for.

import { current, percentRange, time } from '../../../say/quantities.ts';
import { BOOTS, FAULT_OVER, faultInWords } from '../../../say/board.ts';
import { CAUTIONS } from '../../../say/cautions.ts';
import type { Scene, WarningRule } from './scene.ts';
import { warning } from './scene.ts';
import { meanBetween } from '../volts.ts';

/** Share of the range from which on a reading counts as clipped. */
const CLIPPED_SHARE = 0.999;
/** A flat top: this many neighbours at exactly the highest value, where others are hardly ever equal. */
const FLAT_RUN = 5;
const EQUAL_SHARE_MAX = 0.2;
/** Least highest value of a flat top. */
const FLAT_MA = 200;

/**
 * `clipped`: the current reached the end of the board's range, or its top is flat in a log of unknown
 * range.
 */
export const clippingWarning: WarningRule = ({ coarse, fullScale_mA }) => {
  const { highest_mA, highest_run, equal_share } = coarse;
  const next = `Peaks, means and charge are larger than shown. Use a shunt or a meter of a wider range. ${CAUTIONS.neverStart.text}`;
  if (fullScale_mA !== null && highest_mA >= CLIPPED_SHARE * fullScale_mA) {
    return warning('clipped', `The current went beyond what the board can read (${current(fullScale_mA)}).`, next, {
      fullScale_mA,
    });
  }
  if (highest_mA < FLAT_MA || highest_run < FLAT_RUN || equal_share > EQUAL_SHARE_MAX) return null;
  return warning(
    'clipped',
    `The current is cut off flat at ${current(highest_mA)}: it went beyond what the meter can read.`,
    next,
    { highest_mA },
  );
};

/** Least change of temperature, least drift with it, least squared correlation, and fewest bins. */
const WARMED_C = 4;
const DRIFT_MA = 2;
const FOLLOWS = 0.8;
const BINS_MIN = 20;

/** Temperature and current in each bin of the longest level. */
function temperaturePairs({ findings, coarse, voltage }: Scene): { C: number; mA: number }[] {
  const temp_C = voltage?.temp_C ?? null;
  if (voltage === null || temp_C === null) return [];
  const level = findings.levels.reduce<(typeof findings.levels)[0] | null>(
    (best, l) => (best === null || l.end_s - l.start_s > best.end_s - best.start_s ? l : best),
    null,
  );
  if (level === null) return [];
  const found: { C: number; mA: number }[] = [];
  coarse.base_mA.forEach((mA, k) => {
    const t = coarse.t_s[k]!;
    if (!Number.isFinite(mA) || t < level.start_s || t > level.end_s) return;
    const C = meanBetween(voltage.t_s, temp_C, t - coarse.width_s / 2, t + coarse.width_s / 2);
    if (Number.isFinite(C)) found.push({ C, mA });
  });
  return found;
}

/** Least-squares line of mA over degrees C: its slope and the squared correlation. */
function leastSquares(points: readonly { C: number; mA: number }[]): { slope: number; r2: number } {
  const n = points.length;
  const meanC = points.reduce((sum, p) => sum + p.C, 0) / n;
  const mean = points.reduce((sum, p) => sum + p.mA, 0) / n;
  let [cc, cm, mm] = [0, 0, 0];
  for (const { C, mA } of points) {
    cc += (C - meanC) ** 2;
    cm += (C - meanC) * (mA - mean);
    mm += (mA - mean) ** 2;
  }
  return cc === 0 || mm === 0 ? { slope: 0, r2: 0 } : { slope: cm / cc, r2: cm ** 2 / (cc * mm) };
}

/** `offset-drift`: the longest level follows the temperature of the board. */
export const driftWarning: WarningRule = (scene) => {
  const points = temperaturePairs(scene);
  if (points.length < BINS_MIN) return null;
  const degrees = points.map((p) => p.C);
  const range_C = Math.max(...degrees) - Math.min(...degrees);
  const { slope, r2 } = leastSquares(points);
  const drift_mA = Math.abs(slope) * range_C;
  if (range_C < WARMED_C || drift_mA < DRIFT_MA || r2 < FOLLOWS) return null;
  return warning(
    'offset-drift',
    `The level follows the temperature of the board, by ${current(drift_mA)} over ${range_C.toFixed(1)} °C: the board's zero may drift, or the car's own draw does.`,
    'Take the clamps off, join them, and see what the board reads warm and cold; if it is not zero, let it find its zero again.',
    { drift_mA, range_C },
  );
};

/** Least share of the night that is missing. */
const UNKNOWN_SHARE = 0.05;

/** `gaps`: much of the night is missing, and its charge is not known. */
export const gapsWarning: WarningRule = ({ findings, unknown_s }) => {
  const share_pct = (unknown_s / findings.trace.duration_s) * 100;
  if (!(share_pct >= UNKNOWN_SHARE * 100)) return null;
  return warning(
    'gaps',
    `${time(unknown_s)} of the night are missing (${percentRange({ low: share_pct, high: share_pct })}), and what was drawn then is not known.`,
    'See the gaps in the picture; keep cable and computer as the set-up says, and record again if they matter.',
    { unknown_s, share_pct },
  );
};

/** `board-fault`: the board reported a fault. One that lasts is reported again and counts once. */
export const faultWarning: WarningRule = ({ statuses, clock }) => {
  const told = statuses.filter(({ code }) => !BOOTS.includes(code));
  const begun = told.filter(({ code }, i) => code !== FAULT_OVER && code !== told[i - 1]?.code);
  const [first] = begun;
  if (first === undefined) return null;
  const words = faultInWords(first.code);
  return warning(
    'board-fault',
    `The board measured nothing for a while, ${times(begun.length)}, first at ${clock(first.t_s)}.`,
    `The board says: ${words[0]!.toUpperCase()}${words.slice(1)}. Put it right before the next night; the gaps in the picture show how long it was.`,
    { faults: begun.length, first_s: first.t_s },
  );
};

/** The rule for boots of one kind that nobody asked for. */
const bootWarning =
  (status: string, code: 'board-brownout' | 'board-hung', what: string, next: string): WarningRule =>
  ({ statuses, clock }) => {
    const found = statuses.filter((one) => one.code === status);
    const [first] = found;
    return first === undefined
      ? null
      : warning(code, `${what} began anew, ${times(found.length)}, first at ${clock(first.t_s)}.`, next, {
          boots: found.length,
          first_s: first.t_s,
        });
  };

/** `board-brownout`: the board started anew because its supply sagged. */
export const brownoutWarning = bootWarning(
  'brownout',
  'board-brownout',
  'The supply of the board sagged and it',
  'Use a short cable and another USB port, or a hub with a supply of its own; what was drawn meanwhile is in no reading.',
);

/** `board-hung`: the watchdog started the board anew because its firmware hung. */
export const hangWarning = bootWarning(
  'watchdog',
  'board-hung',
  'The firmware of the board hung and',
  'Please report it, with this recording; the readings before and after are right.',
);

const times = (n: number) => (n === 1 ? 'once' : `${n} times`);
