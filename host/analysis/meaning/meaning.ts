// The shape of what a night means: the keys that the interpretation adds to the
// findings. Types alone. Currents in mA, charge in mAh, times in seconds from the first
// sample unless their names say otherwise. A range is always { low, high }.

export interface Range {
  low: number;
  high: number;
}

export interface AllowanceTold {
  mA: number;
  /** `usual`: nobody gave one. `reserve`: reserve minutes / 4. `maker`: with the document it stands in. */
  basis: 'usual' | 'given' | 'reserve' | 'maker';
  /** Where the figure comes from, in words. */
  source: string;
  /** Minutes within which the car is expected to be asleep. */
  settle_min: number;
  /** Minutes it took; null where it never was. */
  settled_min: number | null;
}

export interface BillLine {
  what: 'going-to-sleep' | 'asleep-within' | 'asleep-beyond' | 'family' | 'single' | 'gaps' | 'gaps-unknown';
  label: string;
  /** Id of the family that the line is about, else null. */
  family: number | null;
  /** Wake-ups or gaps in the line; 0 for levels. */
  count: number;
  /** Exact; null where nobody knows it, and then it is in no total. */
  charge_mAh: number | null;
  /** Rounded so that the lines shown add up to the total shown. */
  shown_mAh: number | null;
  /** Whole percent of the total, adding up to 100; null where a line gives charge back. */
  share_pct: number | null;
  /** What a day asleep costs of this; null for what happens once a parking. */
  per_day_mAh: number | null;
  /** Where the charge is not known: what it lies between, an estimate; else null. */
  estimate_mAh: Range | null;
}

export interface BillTold {
  total_mAh: number;
  shown_mAh: number;
  /** Digits behind the point of every `shown_mAh`. */
  decimals: number;
  /** What a day asleep costs in all; null where the car was never asleep. */
  per_day_mAh: number | null;
  lines: BillLine[];
}

export type BatteryType = 'flooded' | 'agm';

/** A lead-acid battery of 12 V, as far as somebody told. */
export interface BatteryTold {
  type: BatteryType | null;
  capacity_Ah: number | null;
  /** Reserve capacity: minutes at 25 A. */
  reserve_min: number | null;
  /** Rested voltage before and after the night. */
  before_V: number | null;
  after_V: number | null;
  temperature_C: number | null;
}

/** A type alias, so that it fits `Record<string, unknown>`. */
export type BatteryFindings = {
  type: BatteryType;
  /** New to used: what it can be taken to hold. */
  capacity_Ah: Range;
  /** State of charge in percent, from the rested voltage; null where none is known. */
  charge_before_pct: Range | null;
  charge_after_pct: Range | null;
  /** What the board or the meter saw at the battery; null where there is no voltage. */
  volts: { start_V: number; end_V: number; lowest_V: number } | null;
  temperature_C: Range;
  /** Days parked until the engine may not crank, from the charge last known on; null where nothing drains it or the draw is not known. */
  days: Range | null;
  /** The draw that the days are reckoned with, mean from asleep on. */
  draw_mA: number | null;
  /** What was taken for granted, one sentence each. */
  assumptions: string[];
  sentence: string;
};

export type ComplaintCode = 'explains' | 'may-explain' | 'only-low-or-worn' | 'does-not-explain' | 'cannot-tell';

export interface ComplaintTold {
  dead_after_days: number;
  code: ComplaintCode;
  /** How long the battery lasts if it was sound and charged; null where nothing drains it or the draw is not known. */
  sound_days: Range | null;
  /** How long it lasts if it was already low or worn. */
  weak_days: number | null;
  sentence: string;
  next: string;
}

export interface CauseTold {
  code: string;
  what: string;
  /** Share of the published features that fit, 0 to 1. */
  likeness: number;
  fits: string[];
  misses: string[];
  source: string;
  /** What to try to prove it. */
  try: string;
}

export interface Explanation {
  about: 'family' | 'wakeup' | 'step';
  /** Id of the family, or index in `wakeups` or `steps`. */
  id: number;
  count: number;
  period_s: number | null;
  first_s: number;
  last_s: number;
  /** Shape of one: medians. Null for a step. */
  shape: null | { length_s: number; height_mA: number; mean_mA: number; peak_mA: number; inner_steps: number };
  /** When in the night it runs. */
  pattern: 'once' | 'all night' | 'early only' | 'late only' | 'a part of the night';
  /** Minutes past the hour that it keeps, where it runs by the clock; else null. */
  on_the_hour_min: number | null;
  /** When the next one is due, on the trace's axis; null without a period. */
  next_due_s: number | null;
  /** What a healthy car does that is like it, likest first. Never a diagnosis. */
  causes: CauseTold[];
  sentence: string;
  try: string;
}

export interface Warning {
  code: WarningCode;
  /** The night cannot be judged before this is put right. */
  grave: boolean;
  sentence: string;
  /** The next step. */
  next: string;
  /** The figures in the sentence, by name with unit. */
  facts: Record<string, number>;
}

export type WarningCode =
  | 'too-short' | 'brief' | 'slow-to-sleep' | 'stays-awake'
  | 'too-low' | 'bridge-on' | 'proof-unsure' | 'fell-low' | 'ground-loop'
  | 'clamps-swapped' | 'charger' | 'solar' | 'negative' | 'zero-off' | 'offset-drift'
  | 'clipped' | 'disturbed' | 'switch-suspect' | 'gaps' | 'board-fault' | 'board-brownout' | 'board-hung'
  | 'battery-low' | 'battery-sagging' | 'voltage-odd';

/** What the interpretation adds to the findings. */
export interface Meaning {
  allowance: AllowanceTold;
  bill: BillTold;
  battery: BatteryFindings;
  /** Null where no complaint was told. */
  complaint: ComplaintTold | null;
  explanations: Explanation[];
  warnings: Warning[];
  /** What to do first. */
  next: string;
}
