// The HTTP interface, part of its own: all nights of the folder by car.

import { z } from 'zod';
import { verdict } from './findings.ts';
import { CARS_MAX } from './limits.ts';
import { captureName, decimal } from './names.ts';

/** Which cars: `count` of them from the `from`-th on, the worst first. */
export const fleetQuestion = z.strictObject({
  from: decimal.pipe(z.int().min(0)).optional(),
  count: decimal.pipe(z.int().min(1).max(CARS_MAX)).optional(),
});

const fleetNight = z.object({
  name: captureName,
  job: z.string(),
  /** Wall clock of the first sample, milliseconds since 1970; null where the source has none. */
  start_ms: z.number().nullable(),
  code: verdict.shape.code,
  /** Null where the car never slept. */
  level_mA: z.number().nullable(),
  /** Average from falling asleep on, wake-ups included; of all of it where the car never slept. */
  draw_mA: z.number(),
  allowance_mA: z.number(),
  /** As if the night were as long as a day. */
  wakeups_per_day: z.number(),
});

export const fleetAnswer = z.object({
  cars: z.array(
    z.object({
      /** How many nights there are of it. */
      count: z.int(),
      /** The newest of them, the newest first. A night that is too short to tell stands behind those that tell. */
      nights: z.array(fleetNight).min(1),
    }),
  ),
  /** How many cars and nights there are; and captures that were not read yet, or cannot be. */
  found: z.int(),
  nights: z.int(),
  unread: z.int(),
  version: z.string(),
});

export type FleetQuestion = z.infer<typeof fleetQuestion>;
export type FleetNight = z.infer<typeof fleetNight>;
export type Fleet = z.infer<typeof fleetAnswer>;
