// Checks the JSON that a capture holds: a file may have been through other hands.

import { z } from 'zod';
import type { BatteryFacts, CarFacts, ChipLimits, Hello } from './types.ts';

/** What a board said of itself: column `hello` of table `run`. */
const helloShape = z.object({
  kind: z.literal('hello'), proto: z.number(), fw: z.string(), mcu: z.string(), sensor: z.string(), id: z.number(), boot: z.number(),
  cause: z.string(), shunt_nOhm: z.number(), gain_ppm: z.number(), offset_nV: z.number(), window_us: z.number(), stream: z.string(),
  speed: z.number(), trigger_uA: z.number().optional(), cal: z.string().optional(), cal_gen: z.number().optional(),
});

/** Column `limits` of table `run`. */
const limitsShape = z.object({
  kind: z.literal('limits'), range_uV: z.number(), step_pV: z.number(), offset_nV: z.number(), gain_ppm: z.number(), conv_us: z.number(), temp: z.boolean(),
});

const carShape = z.object({ deadAfter_days: z.number().nonnegative().optional(), note: z.string().optional() });

const batteryShape = z.object({
  type: z.enum(['flooded', 'agm']).optional(),
  capacity_Ah: z.number().positive().optional(),
  reserve_min: z.number().positive().optional(),
  before_V: z.number().positive().optional(),
  after_V: z.number().positive().optional(),
  temperature_C: z.number().optional(),
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
  car: carShape.optional(),
  battery: batteryShape.optional(),
});

export type InfoValues = Omit<z.infer<typeof infoShape>, 'car' | 'battery'> & { car?: CarFacts; battery?: BatteryFacts };

/** @throws Error naming the key that is missing or wrong */
export function readInfoValues(path: string, rows: readonly { key: string; value: string }[]): InfoValues {
  return checked(path, 'info', infoShape as unknown as z.ZodType<InfoValues>, () => Object.fromEntries(rows.map((row) => [row.key, JSON.parse(row.value) as unknown])));
}

/** @throws Error naming the key that is missing or wrong */
export function readHello(path: string, json: string): Hello {
  return checked(path, 'run', helloShape as unknown as z.ZodType<Hello>, () => JSON.parse(json) as unknown);
}

/** @throws Error naming the key that is missing or wrong */
export function readLimits(path: string, json: string): ChipLimits {
  return checked(path, 'run', limitsShape, () => JSON.parse(json) as unknown);
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
