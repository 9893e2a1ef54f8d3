// Checks the JSON that a capture holds: a file may have been through other hands.

// Of zod the part that loads in a third of the time: every command opens a capture.
import * as z from 'zod/mini';
import type { BatteryFacts, CarFacts, ChipLimits, Hello } from './types.ts';

/** What a board said of itself: column `hello` of table `run`. */
const helloShape = z.object({
  kind: z.literal('hello'), proto: z.number(), fw: z.string(), mcu: z.string(), sensor: z.string(), id: z.number(), boot: z.number(),
  cause: z.string(), shunt_nOhm: z.number(), gain_ppm: z.number(), offset_nV: z.number(), window_us: z.number(), stream: z.string(),
  speed: z.number(), trigger_uA: z.optional(z.number()), cal: z.optional(z.string()), cal_gen: z.optional(z.number()),
});

/** Column `limits` of table `run`. */
const limitsShape = z.object({
  kind: z.literal('limits'), range_uV: z.number(), step_pV: z.number(), offset_nV: z.number(), gain_ppm: z.number(), conv_us: z.number(), temp: z.boolean(),
});

const carShape = z.object({ deadAfter_days: z.optional(z.number().check(z.nonnegative())), note: z.optional(z.string()) });

const batteryShape = z.object({
  type: z.optional(z.enum(['flooded', 'agm'])),
  capacity_Ah: z.optional(z.number().check(z.positive())),
  reserve_min: z.optional(z.number().check(z.positive())),
  before_V: z.optional(z.number().check(z.positive())),
  after_V: z.optional(z.number().check(z.positive())),
  temperature_C: z.optional(z.number()),
});

/** Table `info`. */
const infoShape = z.object({
  kind: z.enum(['recorded', 'imported']),
  state: z.enum(['recording', 'finished']),
  software: z.string(),
  created_ms: z.number(),
  axis_ms: z.nullable(z.number()),
  job: z.nullable(z.string()),
  origin: z.nullable(z.record(z.string(), z.unknown())),
  bad_line_count: z.number(),
  car: z.optional(carShape),
  battery: z.optional(batteryShape),
});

export type InfoValues = Omit<z.infer<typeof infoShape>, 'car' | 'battery'> & { car?: CarFacts; battery?: BatteryFacts };

/** @throws Error naming the key that is missing or wrong */
export function readInfoValues(path: string, rows: readonly { key: string; value: string }[]): InfoValues {
  return checked(path, 'info', infoShape as unknown as z.ZodMiniType<InfoValues>, () => Object.fromEntries(rows.map((row) => [row.key, JSON.parse(row.value) as unknown])));
}

/** @throws Error naming the key that is missing or wrong */
export function readHello(path: string, json: string): Hello {
  return checked(path, 'run', helloShape as unknown as z.ZodMiniType<Hello>, () => JSON.parse(json) as unknown);
}

/** @throws Error naming the key that is missing or wrong */
export function readLimits(path: string, json: string): ChipLimits {
  return checked(path, 'run', limitsShape, () => JSON.parse(json) as unknown);
}

function checked<T>(path: string, table: string, shape: z.ZodMiniType<T>, parse: () => unknown): T {
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
