// The part of the findings' answer that says what the night means, as zod schemas.
// Every key may be absent: an analysis alone is an answer too.

import { z } from 'zod';

export const range = z.object({ low: z.number(), high: z.number() });

const allowance = z.object({
  mA: z.number(),
  basis: z.enum(['usual', 'given', 'reserve', 'maker']),
  source: z.string(),
  settle_min: z.number(),
  settled_min: z.number().nullable(),
});

const billLine = z.object({
  what: z.enum(['going-to-sleep', 'asleep-within', 'asleep-beyond', 'family', 'single', 'gaps', 'gaps-unknown']),
  label: z.string(),
  family: z.number().nullable(),
  count: z.int(),
  charge_mAh: z.number().nullable(),
  shown_mAh: z.number().nullable(),
  share_pct: z.number().nullable(),
  per_day_mAh: z.number().nullable(),
  estimate_mAh: range.nullable(),
});

const bill = z.object({ total_mAh: z.number(), shown_mAh: z.number(), decimals: z.int(), per_day_mAh: z.number().nullable(), lines: z.array(billLine) });

const battery = z.object({
  type: z.enum(['flooded', 'agm']),
  capacity_Ah: range,
  charge_before_pct: range.nullable(),
  charge_after_pct: range.nullable(),
  volts: z.object({ start_V: z.number(), end_V: z.number(), lowest_V: z.number() }).nullable(),
  temperature_C: range,
  days: range.nullable(),
  draw_mA: z.number().nullable(),
  assumptions: z.array(z.string()),
  sentence: z.string(),
});

/** Empty where only the analysis ran. */
export const batteryAnswer = z.object(Object.fromEntries(Object.entries(battery.shape).map(([key, schema]) => [key, schema.exactOptional()])) as {
  [K in keyof typeof battery.shape]: z.ZodExactOptional<(typeof battery.shape)[K]>;
});

const complaint = z.object({
  dead_after_days: z.number(),
  code: z.enum(['explains', 'may-explain', 'only-low-or-worn', 'does-not-explain', 'cannot-tell']),
  sound_days: range.nullable(),
  weak_days: z.number().nullable(),
  sentence: z.string(),
  next: z.string(),
});

const cause = z.object({
  code: z.string(),
  what: z.string(),
  likeness: z.number(),
  fits: z.array(z.string()),
  misses: z.array(z.string()),
  source: z.string(),
  try: z.string(),
});

const explanation = z.object({
  about: z.enum(['family', 'wakeup', 'step']),
  id: z.number(),
  count: z.int(),
  period_s: z.number().nullable(),
  first_s: z.number(),
  last_s: z.number(),
  shape: z.object({ length_s: z.number(), height_mA: z.number(), mean_mA: z.number(), peak_mA: z.number(), inner_steps: z.number() }).nullable(),
  pattern: z.enum(['once', 'all night', 'early only', 'late only', 'a part of the night']),
  on_the_hour_min: z.number().nullable(),
  next_due_s: z.number().nullable(),
  causes: z.array(cause),
  sentence: z.string(),
  try: z.string(),
});

const warning = z.object({
  code: z.enum([
    'too-short', 'brief', 'slow-to-sleep', 'stays-awake', 'too-low', 'bridge-on', 'proof-unsure', 'fell-low', 'ground-loop',
    'clamps-swapped', 'charger', 'solar', 'negative', 'zero-off', 'offset-drift', 'clipped', 'disturbed', 'switch-suspect', 'gaps', 'board-fault', 'board-brownout', 'board-hung',
    'battery-low', 'battery-sagging', 'voltage-odd',
  ]),
  grave: z.boolean(),
  sentence: z.string(),
  next: z.string(),
  facts: z.record(z.string(), z.number()),
});

export const meaningAnswer = {
  allowance: allowance.exactOptional(),
  bill: bill.exactOptional(),
  complaint: complaint.nullable().exactOptional(),
  explanations: z.array(explanation).exactOptional(),
  warnings: z.array(warning).exactOptional(),
  next: z.string().exactOptional(),
};
