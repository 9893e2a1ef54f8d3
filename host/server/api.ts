// The HTTP interface: every question and answer as a zod schema. The server checks
// both with these; the page imports the inferred types alone.

import { z } from 'zod';
import type { Findings } from '../analysis/findings.ts';
import type { Meaning } from '../analysis/meaning/meaning.ts';
import { batteryAnswer, meaningAnswer, range } from './api-meaning.ts';

/** Most bins that one overview may ask for: more than any screen has columns. */
export const BINS_MAX = 4000;

/** A file name inside the captures folder: no path, no hidden file. */
export const captureName = z
  .string()
  .min(1)
  .max(255)
  .refine((name) => !/[/\\\0]/.test(name) && !name.startsWith('.'), 'is not a plain file name');

const decimal = z
  .string()
  .regex(/^-?\d{1,12}(\.\d{1,12})?(e-?\d{1,2})?$/i, 'is not a number')
  .transform(Number);

export const overviewQuestion = z
  .strictObject({
    from_s: decimal,
    to_s: decimal,
    bins: decimal.pipe(z.int().min(1).max(BINS_MAX)),
  })
  .refine((q) => q.from_s < q.to_s, 'from_s must be smaller than to_s');

/** Questions that take no parameter refuse all. */
export const noQuestion = z.strictObject({});

const verdict = z.object({
  code: z.enum(['within', 'over', 'wakes', 'awake', 'short']),
  sentence: z.string(),
});

const known = {
  name: captureName,
  bytes: z.int().min(0),
  /** When the file was last written, milliseconds since 1970 UTC. */
  written_ms: z.number(),
};

/**
 * One line of the list. `waiting`: not analysed yet, ask again soon.
 * `unreadable`: `reason` says why and what to do.
 */
export const captureSummary = z.discriminatedUnion('state', [
  z.object({ state: z.literal('waiting'), ...known }),
  z.object({ state: z.literal('unreadable'), ...known, reason: z.string() }),
  z.object({
    state: z.literal('ready'),
    ...known,
    /** Wall clock of the first sample; null where the source has none. */
    start: z.string().nullable(),
    duration_s: z.number(),
    job: z.string(),
    verdict,
  }),
]);

export const captureList = z.object({ captures: z.array(captureSummary) });

export const captureInfo = z.object({
  name: captureName,
  start_ms: z.number().nullable(),
  duration_s: z.number(),
  samples: z.int(),
  job: z.string(),
  marks: z.array(z.object({ t_s: z.number(), text: z.string() })),
  /** Plain facts about where the readings come from, as label and value. */
  origin: z.array(z.object({ label: z.string(), value: z.string() })),
});

/**
 * The night in `mean_mA.length` bins of equal width from `from_s` to `to_s`.
 * null: no sample there.
 */
export const overviewAnswer = z.object({
  from_s: z.number(),
  to_s: z.number(),
  mean_mA: z.array(z.number().nullable()),
  min_mA: z.array(z.number().nullable()),
  max_mA: z.array(z.number().nullable()),
});

const step = z.object({ t_s: z.number(), from_mA: z.number(), to_mA: z.number() });
const span = z.object({ start_s: z.number(), end_s: z.number() });

const wakeUp = span.extend({
  peak_mA: z.number(),
  mean_mA: z.number(),
  charge_mAh: z.number(),
  family: z.number().nullable(),
  steps: z.array(step),
});

/** Mirrors `Findings`; keys that it does not list are sent as they are. */
export const findingsAnswer = z.object({
  trace: z.object({
    start: z.string().nullable(),
    duration_s: z.number(),
    samples: z.int(),
    mean_mA: z.number(),
    gaps: z.array(span.extend({ charge_mAh: z.number().nullable().exactOptional(), estimate_mAh: range.exactOptional(), uncertain_s: z.number().nullable().exactOptional() })),
  }),
  allowance_mA: z.number(),
  verdict,
  asleep: z.object({ after_s: z.number(), level_mA: z.number(), mean_mA: z.number(), covered_s: z.number() }).nullable(),
  steps: z.array(step),
  wakeups: z.array(wakeUp),
  families: z.array(
    z.object({
      id: z.number(),
      count: z.int(),
      period_s: z.number().nullable(),
      duration_s: z.number(),
      charge_mAh: z.number(),
    }),
  ),
  dips: z.array(wakeUp),
  charge: z.object({
    total_mAh: z.number(),
    going_to_sleep_mAh: z.number(),
    asleep_mAh: z.number(),
    wakeups_mAh: z.number(),
    gaps_mAh: z.number().nullable(),
  }),
  battery: batteryAnswer,
  levels: z.array(span.extend({ level_mA: z.number() })),
  ...meaningAnswer,
});

export const problem = z.object({ error: z.object({ code: z.string(), message: z.string() }) });

export type CaptureSummary = z.infer<typeof captureSummary>;
export type CaptureList = z.infer<typeof captureList>;
export type CaptureInfo = z.infer<typeof captureInfo>;
export type Overview = z.infer<typeof overviewAnswer>;
export type Problem = z.infer<typeof problem>;

/** The compiler holds the schema and the analysis together: this line fails where they part. */
export const asFindings = (value: z.infer<typeof findingsAnswer>): Findings => value;
export const asAnswer = (value: Findings & Meaning): z.input<typeof findingsAnswer> => value;
