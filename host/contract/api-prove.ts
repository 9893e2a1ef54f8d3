// The HTTP interface, third part: proving a board before its first night.

import { z } from 'zod';
import { typedText } from './names.ts';

export const proofOrder = z.strictObject({
  port: z.string().min(1).max(255),
  /** Who proves it: as long as a board keeps it. */
  by: typedText(27).optional(),
  /** The chip that was meant; absent: `ina228`. */
  chip: z.enum(['ina228', 'ina226']).optional(),
});

/** What is done or read at the board: answers the sentence of that number. */
export const proofAnswer = z.strictObject({
  asked: z.int().nonnegative(),
  /** What the meter shows, 1 for yes and 0 for no; null: it is connected as the sentence says. */
  value: z.number().min(-1e6).max(1e6).nullable(),
});

export const proof = z.object({
  port: z.string(),
  /** Of the sentence: counts up. */
  asked: z.int(),
  /** `asking`: an answer is waited for. `sound`, `not-sound`, `failed`, `left`: it is over. */
  state: z.enum(['opening', 'asking', 'listening', 'sound', 'not-sound', 'failed', 'left']),
  sentence: z.string(),
  /** What to do about a mistake. */
  remedy: z.string().nullable(),
  cautions: z.array(z.string()),
  /** What is to be typed; null: only that it is done. */
  answer: z
    .object({ unit: z.enum(['A', 'V', 'mV', '°C', 'yes or no']), least: z.number(), most: z.number() })
    .nullable(),
});

/** The proof that is under way, or the last one; null: none since the server began. */
export const proofNow = z.object({ proof: proof.nullable(), takes: z.string() });

export type ProofOrder = z.infer<typeof proofOrder>;
export type ProofAnswer = z.infer<typeof proofAnswer>;
export type ProofView = z.infer<typeof proof>;
export type ProofNow = z.infer<typeof proofNow>;
