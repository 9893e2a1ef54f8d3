// What the analysis finds: the object that `analyse --json` prints and the server answers, as
// schemas and the types inferred from them. Times in seconds from the first sample, currents in
// mA, charge in mAh; positive current discharges the battery. Keys may be added, none renamed.
// What the interpretation adds to it: meaning.ts.

import { z } from 'zod';
import { batteryAnswer, meaning, range } from './meaning.ts';

/** 95 % interval: noise alone considered, not the calibration of the board. */
const interval = z.object({ low: z.number(), high: z.number() });
const span = z.object({ start_s: z.number(), end_s: z.number() });

const step = z.object({
  t_s: z.number(),
  from_mA: z.number(),
  to_mA: z.number(),
  t_95_s: interval,
  /** Of `to_mA - from_mA`. */
  change_95_mA: interval,
});

const wakeUp = span.extend({
  /** Largest current, absolute. */
  peak_mA: z.number(),
  /** Mean current, absolute. */
  mean_mA: z.number(),
  /** Charge above the level before it. */
  charge_mAh: z.number(),
  charge_95_mAh: interval,
  /** Id of its family, null for one like no other. */
  family: z.number().nullable(),
  /** Lasting changes of level inside it. */
  steps: z.array(step),
});

const family = z.object({
  id: z.number(),
  count: z.int(),
  /** Null where the members keep no period, or one that chance might give. */
  period_s: z.number().nullable(),
  /** Expected number of periods as good among members at random times, at most 0.01; null without a period. */
  period_chance: z.number().nullable(),
  /** Null without a period, and for polling. */
  period_95_s: interval.nullable(),
  /** Median length of a member. */
  duration_s: z.number(),
  /** Median charge of a member. */
  charge_mAh: z.number(),
  /** Whether it is of pulses that belong to their level, of which none is a wake-up. */
  polling: z.boolean(),
});

export const verdict = z.object({
  code: z.enum(['within', 'over', 'wakes', 'awake', 'short']),
  sentence: z.string(),
});

/** A stretch without samples; what is known of its charge and length as in `Gap` of the capture's types. */
const gap = span.extend({
  charge_mAh: z.number().nullable().exactOptional(),
  estimate_mAh: range.exactOptional(),
  uncertain_s: z.number().nullable().exactOptional(),
});

const asleep = z.object({
  after_s: z.number(),
  level_mA: z.number(),
  /** Mean from `after_s` on, wake-ups included, gaps left out; and the seconds it is over. */
  mean_mA: z.number(),
  covered_s: z.number(),
});

const charge = z.object({
  total_mAh: z.number(),
  going_to_sleep_mAh: z.number(),
  asleep_mAh: z.number(),
  wakeups_mAh: z.number(),
  gaps_mAh: z.number().nullable(),
});

/**
 * What the interpretation adds is absent where only the detection ran. Keys that it does not list are sent as they are.
 */
export const findings = z.object({
  trace: z.object({
    start: z.string().nullable(),
    duration_s: z.number(),
    samples: z.int(),
    mean_mA: z.number(),
    gaps: z.array(gap),
  }),
  allowance_mA: z.number(),
  verdict,
  asleep: asleep.nullable(),
  steps: z.array(step),
  wakeups: z.array(wakeUp),
  families: z.array(family),
  /** Falls that come back, described as wake-ups are. */
  dips: z.array(wakeUp),
  charge,
  /** Empty where only the detection ran. */
  battery: batteryAnswer,
  /** The staircase drawn through the trace: each level's start, end and mean, wake-ups and dips set aside. */
  levels: z.array(span.extend({ level_mA: z.number(), level_95_mA: interval })),
  allowance: meaning.shape.allowance.exactOptional(),
  bill: meaning.shape.bill.exactOptional(),
  complaint: meaning.shape.complaint.exactOptional(),
  explanations: meaning.shape.explanations.exactOptional(),
  warnings: meaning.shape.warnings.exactOptional(),
  next: meaning.shape.next.exactOptional(),
});

export type Interval = z.infer<typeof interval>;
export type Step = z.infer<typeof step>;
export type WakeUp = z.infer<typeof wakeUp>;
export type Family = z.infer<typeof family>;
export type VerdictCode = z.infer<typeof verdict>['code'];
export type ChargeBill = z.infer<typeof charge>;
export type GapFound = z.infer<typeof gap>;
export type Findings = z.infer<typeof findings>;
