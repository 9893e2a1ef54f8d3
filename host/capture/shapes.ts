// Checks the JSON that a capture holds: a file may have been through other hands.

import { z } from 'zod';
import type { Hello } from './types.ts';

/** What a board said of itself: column `hello` of table `run`. */
const helloShape = z.object({
  kind: z.literal('hello'), proto: z.number(), fw: z.string(), mcu: z.string(), sensor: z.string(), id: z.number(), boot: z.number(),
  cause: z.string(), shunt_nOhm: z.number(), gain_ppm: z.number(), offset_nV: z.number(), window_us: z.number(), stream: z.string(),
  speed: z.number(),
});

/** Table `info`. */
const infoShape = z.object({
  kind: z.enum(['recorded', 'imported']),
  state: z.enum(['recording', 'finished']),
  software: z.string(),
  created_ms: z.number(),
  axis_ms: z.number().nullable(),
  job: z.string().nullable(),
  origin: z.record(z.string(), z.unknown()).nullable(),
  bad_line_count: z.number(),
});

export type InfoValues = z.infer<typeof infoShape>;

/** @throws Error naming the key that is missing or wrong */
export function readInfoValues(path: string, rows: readonly { key: string; value: string }[]): InfoValues {
  return checked(path, 'info', infoShape, () => Object.fromEntries(rows.map((row) => [row.key, JSON.parse(row.value) as unknown])));
}

/** @throws Error naming the key that is missing or wrong */
export function readHello(path: string, json: string): Hello {
  return checked(path, 'run', helloShape, () => JSON.parse(json) as unknown);
}

function checked<T>(path: string, table: string, shape: z.ZodType<T>, parse: () => unknown): T {
  let value: unknown;
  try {
    value = parse();
  } catch (error) {
    throw new Error(`${path} is damaged: its table ${table} holds text that is no JSON`, { cause: error });
  }
  const result = shape.safeParse(value);
  if (!result.success) throw new Error(`${path} is damaged: its table ${table} lacks a proper '${String(result.error.issues[0]?.path[0])}'`);
  return result.data;
}
