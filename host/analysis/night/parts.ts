// A night in parts (levels, steps, wake-ups, dips, running charge), and the findings that these parts
// make, whether they come from the whole trace at once or from one stretch after another.

import { maxIndex } from 'd3-array';
import { asleepAt, heldLong, reachedIn, staysNear, wholeOf, withoutBumps } from '../levels/asleep.ts';
import type { HeldLevel } from '../levels/asleep.ts';
import type { DescribedExcursion } from '../wakeups/describe.ts';
import { pollingFamilies } from '../levels/polling.ts';
import type { Polling } from '../levels/polling.ts';
import { familiesOf } from '../wakeups/families.ts';
import type { ChargeBill, Findings, GapFound, Interval, Step } from '../../contract/findings.ts';
import type { AnalysisOptions } from '../../contract/settings.ts';
import { codeOf, sentenceOf } from './verdict.ts';
import type { VerdictFacts } from './verdict.ts';

/** A moment, with the charge and the seconds covered by samples from the start until then. */
export interface RunningSum {
  t_s: number;
  charge_mAh: number;
  covered_s: number;
}

/** About half a minute of a level, and when its first sample was. */
export interface CoursePart extends HeldLevel {
  begun: RunningSum;
}

/** One level of a night. Times in seconds from the first sample. */
export interface PartLevel {
  start_s: number;
  end_s: number;
  level_mA: number;
  level_95_mA: Interval;
  /** Seconds at it, wake-ups, dips and gaps left out. */
  held_s: number;
  begun: RunningSum;
  /** How the current ran in it, in parts of about half a minute, excursions left out. */
  course: CoursePart[];
}

/** A night in parts. Times in seconds from the first sample. */
export interface NightParts {
  /** Start by the clock, milliseconds since 1970; null where it is not known. */
  start_ms: number | null;
  duration_s: number;
  samples: number;
  spacing_s: number;
  /** Whether samples are means of windows; false for points. */
  windows: boolean;
  gaps: GapFound[];
  levels: PartLevel[];
  steps: Step[];
  wakeups: DescribedExcursion[];
  dips: DescribedExcursion[];
  /** Trains of pulses in its levels, in order of time. */
  polling: Polling[];
  /** The sums at the end of the night. */
  whole: RunningSum;
  /** Known charge of gaps and lost windows; null where none is known. */
  gaps_mAh: number | null;
  /** Current of the first sample: the mean of a night without any length. */
  first_mA: number;
}

/** Mean current between two moments; `single_mA` where no samples lie between them. */
function meanCurrent_mA(from: RunningSum, to: RunningSum, single_mA: number): number {
  const seconds = to.covered_s - from.covered_s;
  return seconds > 0 ? ((to.charge_mAh - from.charge_mAh) * 3600) / seconds : single_mA;
}

/** The charge of a night by what it was drawn for, split at the moment the car is asleep. */
function chargeBillOf({ whole, wakeups, gaps_mAh }: NightParts, asleep: RunningSum | null): ChargeBill {
  const cut = asleep ?? { ...whole, t_s: Infinity };
  let early = 0;
  let late = 0;
  for (const { found } of wakeups) {
    if (found.start_s < cut.t_s) early += found.charge_mAh;
    else late += found.charge_mAh;
  }
  const going_to_sleep_mAh = cut.charge_mAh - early;
  const asleep_mAh = whole.charge_mAh - cut.charge_mAh - late;
  const wakeups_mAh = early + late;
  return {
    total_mAh: going_to_sleep_mAh + asleep_mAh + wakeups_mAh + (gaps_mAh ?? 0),
    going_to_sleep_mAh,
    asleep_mAh,
    wakeups_mAh,
    gaps_mAh,
  };
}

/**
 * A level from where it is reached, if the current sinks to it slowly; else all of it. One that is held nowhere
 * has no time at it. O(parts of its course, times their logarithm).
 */
export function reachedPart({ begun, course, level_mA, held_s }: PartLevel, step_mA: number): CoursePart {
  const at = reachedIn(course, step_mA);
  const own = at > 0 ? course.slice(at) : course;
  const rest = at > 0 ? wholeOf(own) : null;
  const whole = rest === null ? { begun, level_mA, held_s } : { begun: own[0]!.begun, ...rest };
  return staysNear(own) ? whole : { ...whole, held_s: 0 };
}

/** The highest of the level that the car sleeps at and those later ones that are held for long. */
function highestAfter(
  asleep: NonNullable<Findings['asleep']>,
  later: readonly PartLevel[],
  step_mA: number,
): VerdictFacts['highest'] {
  const long = heldLong(later, step_mA);
  const high = later.filter((one, i) => long[i] && one.level_mA > asleep.level_mA);
  return high[maxIndex(high, (one) => one.level_mA)] ?? { level_mA: asleep.level_mA, start_s: asleep.after_s };
}

/**
 * The findings that the parts of a night make. Writes its family into each wake-up. O(levels + wake-ups
 * x families).
 */
export function findingsOf(parts: NightParts, options: AnalysisOptions): Findings {
  const { levels, whole, wakeups } = parts;
  const { families, of } = familiesOf(
    wakeups.map(({ found, height_mA, top_mA }) => ({ ...found, height_mA, top_mA })),
    parts.spacing_s,
    parts.windows,
  );
  wakeups.forEach((w, i) => (w.found.family = of[i]!));
  const steady = withoutBumps(levels, options.step_mA);
  const reached = steady.map((one) => reachedPart(one, options.step_mA));
  const slept = asleepAt(reached, options.step_mA);
  const begun = slept === null ? null : reached[slept.index]!.begun;
  const asleep =
    slept === null || begun === null
      ? null
      : {
          after_s: begun.t_s,
          level_mA: slept.level_mA,
          mean_mA: meanCurrent_mA(begun, whole, slept.level_mA),
          covered_s: whole.covered_s - begun.covered_s,
        };
  const mean_mA = meanCurrent_mA({ t_s: 0, charge_mAh: 0, covered_s: 0 }, whole, parts.first_mA);
  const found = wakeups.map((w) => w.found);
  const facts = {
    duration_s: parts.duration_s,
    mean_mA,
    allowance_mA: options.allowance_mA,
    asleep,
    highest: asleep === null ? null : highestAfter(asleep, steady.slice(slept!.index + 1), options.step_mA),
    wakeups: found,
    families,
    lastLevel_mA: levels.at(-1)?.level_mA ?? null,
  };
  const code = codeOf(facts);
  return {
    trace: {
      start: parts.start_ms === null ? null : new Date(parts.start_ms).toISOString(),
      duration_s: parts.duration_s,
      samples: parts.samples,
      mean_mA,
      gaps: parts.gaps,
    },
    allowance_mA: options.allowance_mA,
    verdict: { code, sentence: sentenceOf(code, facts) },
    asleep,
    steps: parts.steps,
    wakeups: found,
    families: [...families, ...pollingFamilies(parts.polling, families.length + 1)],
    dips: parts.dips.map((d) => d.found),
    charge: chargeBillOf(parts, begun),
    battery: {},
    levels: levels.map(({ start_s, end_s, level_mA, level_95_mA }) => ({ start_s, end_s, level_mA, level_95_mA })),
  };
}
