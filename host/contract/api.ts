// The HTTP interface: every question and answer as a zod schema. The server checks
// both with these; the page imports the inferred types alone. Recordings and the live
// stream are in `api-live.ts`, which is part of this.

import { z } from 'zod';
import { verdict } from './findings.ts';
import { faultOf, SETTINGS } from './settings.ts';
import type { Setting, Told } from './settings.ts';
import { BINS_MAX, LIST_MAX } from './limits.ts';
import { captureName, decimal, typedText } from './names.ts';

export { captureName } from './names.ts';
export { findings as findingsAnswer } from './findings.ts';
export * from './api-bay.ts';
export * from './api-fleet.ts';
export * from './api-live.ts';
export * from './api-prove.ts';

export const overviewQuestion = z
  .strictObject({
    from_s: decimal,
    to_s: decimal,
    bins: decimal.pipe(z.int().min(1).max(BINS_MAX)),
  })
  .refine((q) => q.from_s < q.to_s, 'from_s must be smaller than to_s');

/** Bins of a small picture in the list. */
export const SMALL_BINS = 120;

/** A setting as it stands in a question: a number within its limits, or one of its words. */
function asked(setting: Setting): z.ZodType<string | number, string> {
  return z
    .string()
    .max(400)
    .transform((text, context) => {
      const isWord = setting.limits === null || setting.words?.includes(text) === true;
      const number = isWord ? null : decimal.safeParse(text);
      const value = number === null ? text : number.success ? number.data : NaN;
      const fault = faultOf(setting, value);
      if (fault !== null) context.addIssue({ code: 'custom', message: `${text.slice(0, 80)} ${fault}` });
      return value;
    });
}

/** The report's head is the workshop's own: a stranger's question gives it no name, and names no file to be read. */
const OF_THE_REPORT: readonly string[] = ['workshop_name', 'workshop_logo'];

const meaningAsked = Object.fromEntries(
  SETTINGS.filter(({ key }) => !OF_THE_REPORT.includes(key)).map((setting) => [setting.key, asked(setting).optional()]),
);
const proofIsWhole = (q: Record<string, unknown>) => q['proof_at_min'] === undefined || q['proof_mA'] !== undefined;
const PROOF_WORDS = 'proof_at_min says when, but not what; give proof_mA too';

/**
 * What may be asked of the meaning otherwise than the capture and the workshop say: every other setting of the table by
 * its key.
 */
export const findingsQuestion = z
  .strictObject(meaningAsked)
  .refine(proofIsWhole, PROOF_WORDS)
  .transform((q) => q as Told);

/** The night before the repair, and what both are judged by. */
export const repairQuestion = z
  .strictObject({ before: captureName, ...meaningAsked })
  .refine(proofIsWhole, PROOF_WORDS)
  .transform(({ before, ...told }) => ({ before, told: told as Told }));

/** Whether two nights prove a repair, and the sentence that says so. */
export const repairAnswer = z.object({ code: z.enum(['proven', 'not proven', 'too short']), sentence: z.string() });

const ofTheJob = {
  paper: z.enum(['a4', 'letter']).default('a4'),
  before: captureName.optional(),
  bay: captureName.optional(),
  /** Number plate, vehicle identity and customer too. */
  personal: z.enum(['yes', 'no']).default('no'),
  ...meaningAsked,
};

/** What the job folder is to hold, and what it is judged by. */
export const jobQuestion = z
  .strictObject(ofTheJob)
  .refine(proofIsWhole, PROOF_WORDS)
  .transform(({ paper, before, bay, personal, ...told }) => ({ paper, before, bay, personal, told }));

/** The same for the report. `shown`: as a page of its own to look at, not as a file to keep. */
export const reportQuestion = z
  .strictObject({
    format: z.enum(['pdf', 'html', 'png', 'svg']),
    shown: z.enum(['yes', 'no']).default('no'),
    ...ofTheJob,
  })
  .refine(proofIsWhole, PROOF_WORDS)
  .refine((q) => q.shown === 'no' || q.format === 'html', 'shown is for html alone')
  .transform(({ format, shown, paper, before, bay, personal, ...told }) => ({
    format,
    shown,
    paper,
    before,
    bay,
    personal,
    told,
  }));

/** What was written beside the capture. */
export const jobFolder = z.object({ folder: z.string(), files: z.array(z.string()) });

/** Questions that take no parameter refuse all. */
export const noQuestion = z.strictObject({});

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
    /** Whether it records work in the bay alone: then it is no night to judge. */
    work: z.boolean(),
  }),
]);

/** Which captures: those with all the words of `search`, `count` of them from the `from`-th on; the newest first. */
export const listQuestion = z.strictObject({
  search: z.string().max(200).optional(),
  from: decimal.pipe(z.int().min(0)).optional(),
  count: decimal.pipe(z.int().min(1).max(LIST_MAX)).optional(),
});

export const captureList = z.object({
  captures: z.array(captureSummary),
  /** How many have the words, and how many there are. */
  found: z.int(),
  total: z.int(),
  /** Another one whenever anything in the folder, or what is known of it, is another. */
  version: z.string(),
});

/** What came of the work in the bay that a capture keeps. */
const workInBay = z.object({
  /** Whether the recording is of that work alone: then it is no night to judge. */
  alone: z.boolean(),
  sentence: z.string(),
  next: z.string(),
  /** What the named parts and the rest add up to; null before the first level. */
  sum: z.string().nullable(),
  parts: z.array(
    z.object({
      code: z.enum(['proven', 'not proven', 'undecided']),
      name: z.string(),
      way: z.string(),
      amount_mA: z.number(),
      /** Null where it was not measured alone. */
      doubt_mA: z.number().nullable(),
    }),
  ),
});

export const nightInfo = z.object({
  name: captureName,
  start_ms: z.number().nullable(),
  duration_s: z.number(),
  samples: z.int(),
  job: z.string(),
  marks: z.array(z.object({ t_s: z.number(), text: z.string() })),
  /** Null where it keeps no work in the bay. */
  bay: workInBay.nullable(),
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

/** A mark to set or to take away: the one of that text nearest to that time, within a hundredth of a second. */
export const mark = z.strictObject({ t_s: z.number().min(0).max(1e9), text: typedText(500).pipe(z.string().min(1)) });

/**
 * What a capture says of its job. All of it optional, empty where nothing is told; `private` ones name a person or a
 * car.
 */
export const details = z.strictObject({
  job: typedText(500),
  plate: typedText(40),
  vehicle: typedText(120),
  customer: typedText(200),
});

/** Only the keys that change. An empty text takes the fact away. */
export const detailsChange = details
  .partial()
  .refine((change) => Object.keys(change).length > 0, 'names nothing to change');

/** `url`: where a tablet comes in, once; the page shows /api/lan/code.svg beside it. */
export const lanState = z.discriminatedUnion('on', [
  z.object({ on: z.literal(false) }),
  z.object({ on: z.literal(true), url: z.string(), devices: z.int() }),
]);

export const done = z.object({ done: z.literal(true) });

export const problem = z.object({
  error: z.object({
    code: z.string(),
    message: z.string(),
    /** Where several things were sent: what is wrong with which, counted from 0. */
    complaints: z.array(z.object({ at: z.int(), text: z.string() })).optional(),
  }),
});

export type CaptureSummary = z.infer<typeof captureSummary>;
export type ReportQuestion = z.output<typeof reportQuestion>;
export type JobQuestion = z.output<typeof jobQuestion>;
export type RepairAnswer = z.infer<typeof repairAnswer>;
export type JobFolder = z.infer<typeof jobFolder>;
export type ListQuestion = z.infer<typeof listQuestion>;
export type CaptureList = z.infer<typeof captureList>;
export type WorkInBay = z.infer<typeof workInBay>;
export type NightInfo = z.infer<typeof nightInfo>;
export type Overview = z.infer<typeof overviewAnswer>;
export type LanState = z.infer<typeof lanState>;
export type Details = z.infer<typeof details>;
export type DetailsChange = z.infer<typeof detailsChange>;
export type MarkOrder = z.infer<typeof mark>;
export type Problem = z.infer<typeof problem>;
