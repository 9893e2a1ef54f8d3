// Warnings about a current that flows the wrong way: clamps swapped, a charger or a solar panel
// connected, or a board whose zero is a little off.

import { current, voltage as volt } from '../../../say/quantities.ts';
import { median } from 'd3-array';
import { CAUTIONS } from '../../../say/cautions.ts';
import type { Findings } from '../../../contract/findings.ts';
import type { Coarse } from '../coarse.ts';
import type { Warning } from '../../../contract/meaning.ts';
import { meanBetween } from '../volts.ts';
import type { WarningRule, Scene } from './scene.ts';
import { warning } from './scene.ts';

/** Below this the current is negative, and not merely because the zero is off. */
const NEGATIVE_MA = -5;
/** Below this a level lies under zero. */
const ZERO_MA = -0.5;
/** Share of the night from which on it is negative all the time, and at least now and then. */
const ALL_SHARE = 0.85;
const SOME_SHARE = 0.02;
/** Above this something charges a 12 V battery: fully charged and rested it has 12.6 to 12.8 V. */
const CHARGED_V = 13;
/** By so much a charger lifts the voltage above that of the rest of the night. */
const CHARGED_BY_V = 0.2;
/** Hours of the day between which a panel may feed the battery. */
const DAY_HOURS = [5, 22] as const;
/** Least time that its current takes to come, as slowly as the light. */
const SLOW_S = 1200;
const CHARGER_NEXT = `Take the charger off and record again. ${CAUTIONS.hybridCharges.text}`;

/** The bins with a negative current, and their times and currents. */
interface Negative {
  share: number;
  first_s: number;
  last_s: number;
  mean_mA: number;
  lowest_mA: number;
  bins: number[];
}

function negativeOf({ mean_mA, t_s, width_s }: Coarse): Negative | null {
  const seen: number[] = [];
  const bins: number[] = [];
  mean_mA.forEach((value, k) => {
    if (!Number.isFinite(value)) return;
    seen.push(k);
    if (value < NEGATIVE_MA) bins.push(k);
  });
  if (bins.length === 0) return null;
  const values = bins.map((k) => mean_mA[k]!);
  return {
    share: bins.length / seen.length,
    bins,
    first_s: t_s[bins[0]!]! - width_s / 2,
    last_s: t_s[bins.at(-1)!]! + width_s / 2,
    mean_mA: values.reduce((a, b) => a + b, 0) / values.length,
    lowest_mA: Math.min(...values),
  };
}

/** True when a negative night has the shape of a parked car upside down. */
function looksSwapped({ findings }: Scene, negative: Negative): boolean {
  // A staircase upside down: far below zero at first, and what should be wake-ups are dips.
  const [first] = findings.levels;
  const isStairs =
    first !== undefined &&
    first.level_mA < 3 * median(findings.levels.map((l) => l.level_mA))! &&
    first.level_mA < -100;
  return isStairs || findings.dips.length > findings.wakeups.length || negative.lowest_mA < 5 * negative.mean_mA;
}

/** Median battery voltage in these bins; null where none is known. */
function voltsWhile({ voltage, coarse }: Scene, bins: readonly number[]): number | null {
  if (voltage === null) return null;
  const seen = bins
    .map((k) =>
      meanBetween(
        voltage.t_s,
        voltage.voltage_V,
        coarse.t_s[k]! - coarse.width_s / 2,
        coarse.t_s[k]! + coarse.width_s / 2,
      ),
    )
    .filter(Number.isFinite);
  return seen.length === 0 ? null : median(seen)!;
}

/** True when the current takes as long as daylight from its first negative bin to near its lowest. */
function isSlow({ coarse }: Scene, { bins, lowest_mA, first_s }: Negative): boolean {
  const deep = bins.find((k) => coarse.mean_mA[k]! < 0.7 * lowest_mA)!;
  return coarse.t_s[deep]! - first_s >= SLOW_S;
}

/** True when the negative time lies within one day between morning and evening, by the clock. */
function byDay({ start_ms }: Scene, { first_s, last_s }: Negative): boolean {
  if (start_ms === null) return false;
  const hour = (t_s: number) => new Date(start_ms + t_s * 1000).getHours();
  return (
    last_s - first_s < 17 * 3600 &&
    hour(first_s) >= DAY_HOURS[0] &&
    hour(last_s) <= DAY_HOURS[1] &&
    hour(first_s) <= hour(last_s)
  );
}

/** The warning for a night that is negative all the time. */
function alwaysNegative(scene: Scene, negative: Negative): Warning {
  const { mean_mA } = negative;
  const charging_V = voltsWhile(scene, negative.bins);
  const words = `The current is negative all the time (${current(mean_mA)} on average)`;
  if (charging_V !== null && charging_V > CHARGED_V) {
    return warning('charger', `${words} at ${volt(charging_V)}: a charger feeds the battery.`, CHARGER_NEXT, {
      mean_mA,
      charging_V,
    });
  }
  if (charging_V !== null || looksSwapped(scene, negative)) {
    const at =
      charging_V === null
        ? ', and goes to sleep upside down'
        : ` at ${volt(charging_V)}, so that nothing charges the battery`;
    return warning(
      'clamps-swapped',
      `${words}${at}: the clamps are swapped.`,
      'Swap the clamps: the one for the battery to the battery post. This night can be read with its sign turned.',
      { mean_mA, ...(charging_V === null ? {} : { charging_V }) },
    );
  }
  return warning(
    'negative',
    `${words}: either the clamps are swapped, or a charger feeds the battery.`,
    `Look at the clamps and for a charger or a panel, also at the socket inside; then record again. ${CAUTIONS.hybridCharges.text}`,
    { mean_mA },
  );
}

/** The warning for a night that is negative for a part of the time. */
function partlyNegative(scene: Scene, negative: Negative): Warning {
  const { first_s, last_s, mean_mA } = negative;
  const words = `From ${scene.clock(first_s)} to ${scene.clock(last_s)} the current is negative (${current(mean_mA)} on average)`;
  const facts = { first_s, last_s, mean_mA };
  const during_V = voltsWhile(scene, negative.bins);
  const others = new Set(negative.bins);
  const else_V = voltsWhile(
    scene,
    [...scene.coarse.t_s.keys()].filter((k) => !others.has(k)),
  );
  const isCharged =
    during_V !== null && (during_V > CHARGED_V || (else_V !== null && during_V - else_V > CHARGED_BY_V));
  if (isSlow(scene, negative) && byDay(scene, negative)) {
    return warning(
      'solar',
      `${words}, coming and going as slowly as daylight: a solar panel feeds the battery.`,
      'Unplug or cover the panel and record again.',
      facts,
    );
  }
  if (isCharged)
    return warning('charger', `${words} at ${volt(during_V)}: a charger feeds the battery.`, CHARGER_NEXT, {
      ...facts,
      during_V,
    });
  return warning(
    'negative',
    `${words}: something feeds the battery; what it is cannot be seen.`,
    `Look for a charger or a solar panel, also at the socket inside; then record again. ${CAUTIONS.hybridCharges.text}`,
    facts,
  );
}

/**
 * `clamps-swapped`, `charger`, `solar` or `negative` for a current that is negative; `zero-off` for one
 * just under zero.
 */
export const signWarning: WarningRule = (scene) => {
  const negative = negativeOf(scene.coarse);
  if (negative !== null && negative.share >= SOME_SHARE)
    return negative.share >= ALL_SHARE ? alwaysNegative(scene, negative) : partlyNegative(scene, negative);
  return zeroOff(scene.findings);
};

/** The warning for a car that lies slightly under zero for half of the night. */
function zeroOff(findings: Findings): Warning | null {
  const below = findings.levels.filter((l) => l.level_mA < ZERO_MA && l.level_mA >= NEGATIVE_MA);
  const held_s = below.reduce((sum, l) => sum + l.end_s - l.start_s, 0);
  if (held_s < findings.trace.duration_s / 2) return null;
  const level_mA = median(below.map((l) => l.level_mA))!;
  return warning(
    'zero-off',
    `The reading lies below zero by ${current(-level_mA)}, which no sleeping car does: the board's zero is off.`,
    'Take the clamps off, join them, and let the board find its zero; then record again.',
    { below_mA: -level_mA },
  );
}
