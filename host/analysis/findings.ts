// The shape of what the analysis finds: the object that `analyse --json` prints.
// Types alone. Times in seconds from the first sample, currents in mA, charge in
// mAh; positive current discharges the battery. Keys may be added, none renamed.
// What the interpretation adds to it: meaning/meaning.ts.

import type { BatteryFindings, Meaning, Range } from './meaning/meaning.ts';

/** 95 % interval: noise alone considered, not the calibration of the board. */
export interface Interval {
  low: number;
  high: number;
}

export interface Step {
  t_s: number;
  from_mA: number;
  to_mA: number;
  t_95_s: Interval;
  /** Of `to_mA - from_mA`. */
  change_95_mA: Interval;
}

export interface WakeUp {
  start_s: number;
  end_s: number;
  /** Largest current, absolute. */
  peak_mA: number;
  /** Mean current, absolute. */
  mean_mA: number;
  /** Charge above the level before it. */
  charge_mAh: number;
  /** Id of its family, null for one like no other. */
  family: number | null;
  /** Lasting changes of level inside it. */
  steps: Step[];
}

export interface Family {
  id: number;
  count: number;
  /** Null where the members keep no period. */
  period_s: number | null;
  /** Median length of a member. */
  duration_s: number;
  /** Median charge of a member. */
  charge_mAh: number;
}

export type VerdictCode = 'within' | 'over' | 'wakes' | 'awake' | 'short';

export interface ChargeBill {
  total_mAh: number;
  going_to_sleep_mAh: number;
  asleep_mAh: number;
  wakeups_mAh: number;
  gaps_mAh: number | null;
}

/** A stretch without samples; what is known of its charge and length as in `Gap` of the capture's types. */
export interface GapFound {
  start_s: number;
  end_s: number;
  charge_mAh?: number | null;
  estimate_mAh?: Range;
  uncertain_s?: number | null;
}

export interface Asleep {
  after_s: number;
  level_mA: number;
  /** Mean from `after_s` on, wake-ups included, gaps left out; and the seconds it is over. */
  mean_mA: number;
  covered_s: number;
}

/** What the interpretation adds is absent where only the detection ran. */
export interface Findings extends Partial<Omit<Meaning, 'battery'>> {
  trace: {
    start: string | null;
    duration_s: number;
    samples: number;
    mean_mA: number;
    gaps: GapFound[];
  };
  allowance_mA: number;
  verdict: { code: VerdictCode; sentence: string };
  asleep: null | Asleep;
  steps: Step[];
  wakeups: WakeUp[];
  families: Family[];
  /** Falls that come back, described as wake-ups are. */
  dips: WakeUp[];
  charge: ChargeBill;
  /** Empty where only the detection ran. */
  battery: Partial<BatteryFindings>;
  /** The staircase drawn through the trace: each level's start, end and mean, wake-ups and dips set aside. */
  levels: { start_s: number; end_s: number; level_mA: number; level_95_mA: Interval }[];
}

export interface AnalysisOptions {
  /** Largest mean draw accepted while parked. */
  allowance_mA: number;
  /** Smallest lasting change of level that counts as a step. */
  step_mA: number;
  /** Shortest hold of a level. */
  hold_s: number;
  /** Smallest rise that counts as a wake-up. */
  rise_mA: number;
}

export const DEFAULT_OPTIONS: AnalysisOptions = {
  allowance_mA: 50,
  step_mA: 5,
  hold_s: 20,
  rise_mA: 20,
};
