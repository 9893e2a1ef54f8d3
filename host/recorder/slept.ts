// Notices that this computer slept while it should have recorded, and how long.
//
// Three clocks tell it apart from a set clock: the monotonic one stands still in sleep
// (Linux: CLOCK_MONOTONIC), the uptime counts sleep (CLOCK_BOOTTIME), the wall clock
// counts it too, but is set now and then.

import type { HostClock } from '../contract/time.ts';

/** Less is a busy computer. */
const LEAST_S = 2;

export interface Slept {
  length_s: number;
  /** How sure that is; null where only the wall clock tells, which may have been set instead. */
  uncertain_s: number | null;
}

interface Readings {
  mono_s: number;
  up_s: number;
  wall_s: number;
}

/** The uptime has a resolution of 10 ms, and both clocks are read one after the other. */
const UPTIME_UNCERTAIN_S = 0.05;

export class SleepWatch {
  private last: Readings;

  constructor(private readonly clock: HostClock) {
    this.last = this.read();
  }

  private read(): Readings {
    return { mono_s: this.clock.now_us() / 1e6, up_s: this.clock.up_s(), wall_s: this.clock.wall_ms() / 1000 };
  }

  /** To be called twice a second. Returns what happened since the last call, null for nothing. */
  look(): Slept | null {
    const now = this.read();
    const mono_s = now.mono_s - this.last.mono_s;
    const byUptime_s = now.up_s - this.last.up_s - mono_s;
    const byWall_s = now.wall_s - this.last.wall_s - mono_s;
    this.last = now;
    if (byUptime_s > LEAST_S) return { length_s: byUptime_s, uncertain_s: UPTIME_UNCERTAIN_S };
    // Timers that came late tell of sleep where the monotonic clock counts it.
    if (mono_s > LEAST_S + 0.5 && Math.abs(byWall_s) < 1) return { length_s: 0, uncertain_s: UPTIME_UNCERTAIN_S };
    return null;
  }
}

export interface HostStamp {
  axis_us: number;
  wall_ms: number;
  up_s: number;
}

/**
 * How long nobody recorded, by the clocks of this computer then and now.
 * @returns seconds, and how sure; null where only the wall clock tells and it cannot be checked
 */
export function away(then: HostStamp, clock: HostClock): { length_s: number; uncertain_s: number | null } {
  const wall_s = Math.max(0, (clock.wall_ms() - then.wall_ms) / 1000);
  const up_s = clock.up_s() - then.up_s;
  // A computer that was started anew begins to count again.
  if (up_s < 0) return { length_s: wall_s, uncertain_s: null };
  const apart_s = Math.abs(wall_s - up_s);
  if (apart_s < 1) return { length_s: up_s, uncertain_s: Math.max(apart_s, UPTIME_UNCERTAIN_S) };
  // Either the clock was set, or the computer was started anew and has been up longer since: between the two.
  return { length_s: wall_s, uncertain_s: apart_s };
}
