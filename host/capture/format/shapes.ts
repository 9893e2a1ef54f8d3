// Checks the JSON that a capture holds: a file may have been through other hands.

// Of zod the part that loads in a third of the time: every command opens a capture.
import * as z from 'zod/mini';
import { DATE_MOST_ms, NUMBER_MOST } from './possible.ts';
import type { BatteryFacts, CarFacts, Certificate, ChipLimits, Hello, Personal } from '../../contract/capture.ts';

const whole = z.int().check(z.nonnegative());
const date_ms = z.number().check(z.gte(-DATE_MOST_ms), z.lte(DATE_MOST_ms));
const number = z.number().check(z.gte(-NUMBER_MOST), z.lte(NUMBER_MOST));

/** What a board said of itself: column `hello` of table `run`. */
const helloShape = z.object({
  kind: z.literal('hello'),
  proto: whole,
  fw: z.string(),
  mcu: z.string(),
  sensor: z.string(),
  id: whole,
  boot: whole,
  cause: z.string(),
  shunt_nOhm: number.check(z.positive()),
  gain_ppm: number.check(z.gt(-1e6)),
  offset_nV: number,
  window_us: number.check(z.positive()),
  stream: z.string(),
  speed: number.check(z.positive()),
  trigger_uA: z.optional(number),
  cal: z.optional(z.string()),
  cal_gen: z.optional(whole),
});

/** Column `limits` of table `run`. */
const limitsShape = z.object({
  kind: z.literal('limits'),
  range_uV: number,
  step_pV: number,
  offset_nV: number,
  gain_ppm: number,
  conv_us: number,
  temp: z.boolean(),
});

const carShape = z.object({ deadAfter_days: z.optional(number.check(z.nonnegative())), note: z.optional(z.string()) });

const batteryShape = z.object({
  type: z.optional(z.enum(['flooded', 'agm'])),
  capacity_Ah: z.optional(number.check(z.positive())),
  reserve_min: z.optional(number.check(z.positive())),
  before_V: z.optional(number.check(z.positive())),
  after_V: z.optional(number.check(z.positive())),
  temperature_C: z.optional(number),
});

/** What the board says of its being proved, apart from who did it. */
const certificateShape = z.object({ checked_ms: date_ms, share_ppm: whole, zero_uA: whole, cal_gen: whole });

/** Table `info`. */
const infoShape = z.object({
  kind: z.enum(['recorded', 'imported']),
  state: z.enum(['recording', 'finished']),
  software: z.string(),
  created_ms: date_ms,
  axis_ms: z.nullable(date_ms),
  job: z.nullable(z.string()),
  origin: z.nullable(z.record(z.string(), z.unknown())),
  bad_line_count: whole,
  car: z.optional(carShape),
  battery: z.optional(batteryShape),
  certificate: z.optional(certificateShape),
  // firmware/PROTOCOL.md, "The certificate": 27 bytes.
  checked_by: z.optional(z.string().check(z.maxLength(27))),
});

/** What names a person or a car, where it is there: table `info`. */
const personalShape = z.object({
  plate: z.optional(z.string()),
  vehicle: z.optional(z.string()),
  customer: z.optional(z.string()),
});

/** The recorder's clocks at its last transaction: key `host` of table `info`. */
const hostShape = z.object({ axis_us: number, wall_ms: date_ms, up_s: number });

/** How sure the gap before a run is: keys `doubt_s_N` of table `info`. */
const doubtShape = z.nullable(number.check(z.nonnegative()));

export type InfoValues = Omit<z.infer<typeof infoShape>, 'car' | 'battery'> & {
  car?: CarFacts;
  battery?: BatteryFacts;
  certificate?: Omit<Certificate, 'by'>;
  /** The certificate's `by`, apart: it names a person. */
  checked_by?: string;
};

/** @throws Error naming the key that is missing or wrong */
export function readInfoValues(path: string, rows: readonly { key: string; value: string }[]): InfoValues {
  return checked(path, 'info', infoShape as unknown as z.ZodMiniType<InfoValues>, () =>
    Object.fromEntries(rows.map((row) => [row.key, JSON.parse(row.value) as unknown])),
  );
}

/** @throws Error where one is no text */
export function readPersonal(path: string, rows: readonly { key: string; value: string }[]): Personal {
  return checked(path, 'info', personalShape as unknown as z.ZodMiniType<Personal>, () =>
    Object.fromEntries(rows.map((row) => [row.key, JSON.parse(row.value) as unknown])),
  );
}

/** @throws Error where it is not as a recorder writes it */
export function readHost(path: string, json: string): z.infer<typeof hostShape> {
  return checked(path, 'info', hostShape, () => JSON.parse(json) as unknown);
}

/** @throws Error where it is not as a recorder writes it */
export function readDoubt(path: string, json: string): number | null {
  return checked(path, 'info', doubtShape, () => JSON.parse(json) as unknown);
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
  if (!result.success)
    throw new Error(
      `${path} is damaged: its table ${table} lacks a proper '${String(result.error.issues[0]?.path[0] ?? 'value')}'`,
    );
  return result.data;
}
