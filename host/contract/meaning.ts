// What a night means: the keys that the interpretation adds to the findings, as schemas and
// the types inferred from them. Currents in mA, charge in mAh, times in seconds from the first
// sample unless their names say otherwise. A range is always { low, high }. Each key of the
// whole may be absent: an analysis alone is an answer too.

import { z } from 'zod';

export const range = z.object({ low: z.number(), high: z.number() });

const allowance = z.object({
  mA: z.number(),
  /** `usual`: nobody gave one. `reserve`: reserve minutes / 4. `maker`: with the document it stands in. */
  basis: z.enum(['usual', 'given', 'reserve', 'maker']),
  /** Where the figure comes from, in words. */
  source: z.string(),
  /** Minutes within which the car is expected to be asleep. */
  settle_min: z.number(),
  /** Minutes it took; null where it never was. */
  settled_min: z.number().nullable(),
});

const billLine = z.object({
  what: z.enum(['going-to-sleep', 'asleep-within', 'asleep-beyond', 'family', 'single', 'gaps', 'gaps-unknown']),
  label: z.string(),
  /** Id of the family that the line is about, else null. */
  family: z.number().nullable(),
  /** Wake-ups or gaps in the line; 0 for levels. */
  count: z.int(),
  /** Exact; null where nobody knows it, and then it is in no total. */
  charge_mAh: z.number().nullable(),
  /** Rounded so that the lines shown add up to the total shown. */
  shown_mAh: z.number().nullable(),
  /** Whole percent of the total, adding up to 100; null where a line gives charge back. */
  share_pct: z.number().nullable(),
  /** What a day asleep costs of this; null for what happens once a parking. */
  per_day_mAh: z.number().nullable(),
  /** Where the charge is not known: what it lies between, an estimate; else null. */
  estimate_mAh: range.nullable(),
});

const bill = z.object({
  total_mAh: z.number(),
  shown_mAh: z.number(),
  /** Digits behind the point of every `shown_mAh`. */
  decimals: z.int(),
  /** What a day asleep costs in all; null where the car was never asleep. */
  per_day_mAh: z.number().nullable(),
  lines: z.array(billLine),
});

const battery = z.object({
  type: z.enum(['flooded', 'agm']),
  /** New to used: what it can be taken to hold. */
  capacity_Ah: range,
  /** State of charge in percent, from the rested voltage; null where none is known. */
  charge_before_pct: range.nullable(),
  charge_after_pct: range.nullable(),
  /** What the board or the meter saw at the battery; null where there is no voltage. */
  volts: z.object({ start_V: z.number(), end_V: z.number(), lowest_V: z.number() }).nullable(),
  temperature_C: range,
  /**
   * Days parked until the engine may not crank, from the charge last known on; null where nothing drains it or the draw
   * is not known.
   */
  days: range.nullable(),
  /** The draw that the days are reckoned with, mean from asleep on. */
  draw_mA: z.number().nullable(),
  /** What was taken for granted, one sentence each. */
  assumptions: z.array(z.string()),
  sentence: z.string(),
});

/** Empty where only the analysis ran. */
export const batteryAnswer = z.object(
  Object.fromEntries(Object.entries(battery.shape).map(([key, schema]) => [key, schema.exactOptional()])) as {
    [K in keyof typeof battery.shape]: z.ZodExactOptional<(typeof battery.shape)[K]>;
  },
);

const complaint = z.object({
  dead_after_days: z.number(),
  code: z.enum(['explains', 'may-explain', 'only-low-or-worn', 'does-not-explain', 'cannot-tell']),
  /** How long the battery lasts if it was sound and charged; null where nothing drains it or the draw is not known. */
  sound_days: range.nullable(),
  /** How long it lasts if it was already low or worn. */
  weak_days: z.number().nullable(),
  sentence: z.string(),
  next: z.string(),
});

const cause = z.object({
  code: z.string(),
  what: z.string(),
  /** Share of the published features that fit, 0 to 1. */
  likeness: z.number(),
  fits: z.array(z.string()),
  misses: z.array(z.string()),
  source: z.string(),
  /** What to try to prove it. */
  try: z.string(),
});

const explanation = z.object({
  about: z.enum(['family', 'wakeup', 'step']),
  /** Id of the family, or index in `wakeups` or `steps`. */
  id: z.number(),
  count: z.int(),
  period_s: z.number().nullable(),
  /** As a family's. */
  period_chance: z.number().nullable(),
  first_s: z.number(),
  last_s: z.number(),
  /** Shape of one: medians. Null for a step. */
  shape: z
    .object({
      length_s: z.number(),
      height_mA: z.number(),
      mean_mA: z.number(),
      peak_mA: z.number(),
      inner_steps: z.number(),
    })
    .nullable(),
  /** When in the night it runs. */
  pattern: z.enum(['once', 'all night', 'early only', 'late only', 'a part of the night']),
  /** Minutes past the hour that it keeps, where it runs by the clock; else null. */
  on_the_hour_min: z.number().nullable(),
  /** When the next one is due, on the trace's axis; null without a period. */
  next_due_s: z.number().nullable(),
  /** What a healthy car does that is like it, likest first. Never a diagnosis. */
  causes: z.array(cause),
  sentence: z.string(),
  try: z.string(),
});

const warning = z.object({
  code: z.enum([
    'too-short',
    'brief',
    'slow-to-sleep',
    'stays-awake',
    'too-low',
    'bridge-on',
    'proof-unsure',
    'fell-low',
    'ground-loop',
    'clamps-swapped',
    'charger',
    'solar',
    'negative',
    'zero-off',
    'offset-drift',
    'clipped',
    'disturbed',
    'switch-suspect',
    'gaps',
    'board-fault',
    'board-brownout',
    'board-hung',
    'battery-low',
    'battery-sagging',
    'voltage-odd',
  ]),
  /** The night cannot be judged before this is put right. */
  grave: z.boolean(),
  sentence: z.string(),
  /** The next step. */
  next: z.string(),
  /** The figures in the sentence, by name with unit. */
  facts: z.record(z.string(), z.number()),
});

export const meaning = z.object({
  allowance,
  bill,
  battery,
  /** Null where no complaint was told. */
  complaint: complaint.nullable(),
  explanations: z.array(explanation),
  warnings: z.array(warning),
  /** What to do first. */
  next: z.string(),
});

export type Range = z.infer<typeof range>;
export type AllowanceTold = z.infer<typeof allowance>;
export type BillLine = z.infer<typeof billLine>;
export type BillTold = z.infer<typeof bill>;
export type BatteryFindings = z.infer<typeof battery>;
export type BatteryType = BatteryFindings['type'];
export type ComplaintTold = z.infer<typeof complaint>;
export type ComplaintCode = ComplaintTold['code'];
export type CauseTold = z.infer<typeof cause>;
export type Explanation = z.infer<typeof explanation>;
export type Warning = z.infer<typeof warning>;
export type WarningCode = Warning['code'];
/** What the interpretation adds to the findings. */
export type Meaning = z.infer<typeof meaning>;

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
