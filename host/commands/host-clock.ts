// This computer's clock and timers, as the commands hand them down.

import { uptime } from 'node:os';
import type { HostClock } from '../contract/time.ts';

export const hostClock: HostClock = {
  now_us: () => Number(process.hrtime.bigint() / 1000n),
  after(ms, work) {
    const timer = setTimeout(work, ms);
    return () => clearTimeout(timer);
  },
  every(ms, work) {
    const timer = setInterval(work, ms);
    return () => clearInterval(timer);
  },
  wall_ms: () => Date.now(),
  up_s: () => uptime(),
};
