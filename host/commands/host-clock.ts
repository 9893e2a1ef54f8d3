// This computer's clocks as the commands hand them down.

import { uptime } from 'node:os';

/** Microseconds since some origin; never steps, and stands still while the computer sleeps on most systems. */
export const monotonic_us = (): number => Number(process.hrtime.bigint() / 1000n);

/** Since this computer was started, sleep included. */
export const uptime_s = (): number => uptime();

export const wall_ms = (): number => Date.now();
