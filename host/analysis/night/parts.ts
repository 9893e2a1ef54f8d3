// A night told part by part (levels, steps, wake-ups, dips, running charge), and the
// findings that such parts make, wherever they were read: from the whole trace at once,
// or a stretch after the other. O(levels + wake-ups x families).

import { asleepAt, LONG_S } from '../levels/asleep.ts';
import type { DescribedExcursion } from '../wakeups/describe.ts';
import { familiesOf } from '../wakeups/families.ts';
import type { ChargeBill, Findings, GapFound, Interval, Step } from '../../contract/findings.ts';
import type { AnalysisOptions } from '../../contract/settings.ts';
import { codeOf, sentenceOf } from './verdict.ts';

/** A moment, and what flowed and was covered by samples from the beginning until then. */
export interface RunningSum {
  t_s: number;
  charge_mAh: number;
  covered_s: number;
}

export interface PartLevel {
  start_s: number;
  end_s: number;
  level_mA: number;
  level_95_mA: Interval;
  /** Time at it, wake-ups, dips and gaps left out. */
  held_s: number;
  /** When the level itself is reached, where it is sunk to slowly; else its start. */
  reached: RunningSum;
}

/** Times in seconds from the first sample. */
export interface NightParts {
  start_ms: number | null;
  duration_s: number;
  samples: number;
  spacing_s: number;
  gaps: GapFound[];
  levels: PartLevel[];
  steps: Step[];
  wakeups: DescribedExcursion[];
  dips: DescribedExcursion[];
  whole: RunningSum;
  gaps_mAh: number | null;
  first_mA: number;
}

function meanCurrent_mA(from: RunningSum, to: RunningSum, single_mA: number): number {
  const seconds = to.covered_s - from.covered_s;
  return seconds > 0 ? ((to.charge_mAh - from.charge_mAh) * 3600) / seconds : single_mA;
}

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

function highestAfter(levels: readonly PartLevel[], from: number): PartLevel | null {
  return levels
    .slice(from)
    .reduce<PartLevel | null>(
      (best, l) => (l.held_s >= LONG_S && (best === null || l.level_mA > best.level_mA) ? l : best),
      null,
    );
}

/** What the parts show together. Gives each wake-up its family. */
export function findingsOf(parts: NightParts, options: AnalysisOptions): Findings {
  const { levels, whole, wakeups } = parts;
  const { families, of } = familiesOf(
    wakeups.map((w) => ({ ...w.found, height_mA: w.height_mA })),
    parts.spacing_s,
  );
  wakeups.forEach((w, i) => (w.found.family = of[i]!));
  const asleepIndex = asleepAt(levels);
  const level = levels[asleepIndex];
  const asleep =
    level === undefined
      ? null
      : {
          after_s: level.reached.t_s,
          level_mA: level.level_mA,
          mean_mA: meanCurrent_mA(level.reached, whole, level.level_mA),
          covered_s: whole.covered_s - level.reached.covered_s,
        };
  const mean_mA = meanCurrent_mA({ t_s: 0, charge_mAh: 0, covered_s: 0 }, whole, parts.first_mA);
  const found = wakeups.map((w) => w.found);
  const facts = {
    duration_s: parts.duration_s,
    mean_mA,
    allowance_mA: options.allowance_mA,
    asleep,
    highest: level === undefined ? null : highestAfter(levels, asleepIndex),
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
    families,
    dips: parts.dips.map((d) => d.found),
    charge: chargeBillOf(parts, level?.reached ?? null),
    battery: {},
    levels: levels.map(({ start_s, end_s, level_mA, level_95_mA }) => ({ start_s, end_s, level_mA, level_95_mA })),
  };
}
