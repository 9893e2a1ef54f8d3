// The newest windows of a recording as the live stream carries them.

import type { WindowReading } from '../../contract/capture.ts';
import type { LiveWindow } from '../../contract/api.ts';

/** Two minutes at the board's own speed. */
const RECENT_MAX = 2400;

/** Windows in one event at most: a board at many times the speed sends more than a picture shows. */
const PER_EVENT = 8;

const rounded = (value: number, by: number) => Math.round(value * by) / by;

/** @param t_s where the window ends on the trace. µs and µA are as fine as the board tells. */
export function liveWindow(window: WindowReading, t_s: number): LiveWindow {
  return [rounded(t_s, 1e4), window.dur_us / 1e6, window.mean_uA / 1000, window.min_uA / 1000, window.max_uA / 1000];
}

/** Neighbours joined, so that no more than `most` are left; each as it is where they are few. */
export function thinned(windows: readonly LiveWindow[], most = PER_EVENT): LiveWindow[] {
  const size = Math.ceil(windows.length / most);
  if (size <= 1) return [...windows];
  const out: LiveWindow[] = [];
  for (let at = 0; at < windows.length; at += size) out.push(joined(windows.slice(at, at + size)));
  return out;
}

function joined(windows: readonly LiveWindow[]): LiveWindow {
  let dur_s = 0,
    sum = 0,
    min = Infinity,
    max = -Infinity;
  for (const [, own_s, mean, low, high] of windows) {
    dur_s += own_s;
    sum += own_s * mean;
    min = Math.min(min, low);
    max = Math.max(max, high);
  }
  return [windows[windows.length - 1]![0], rounded(dur_s, 1e6), rounded(sum / dur_s, 1e6), min, max];
}

export class Recent {
  private windows: LiveWindow[] = [];

  add(fresh: readonly LiveWindow[]): void {
    this.windows.push(...fresh);
    // Not at each one: that would move all the others each time.
    if (this.windows.length > 1.25 * RECENT_MAX) this.windows = this.windows.slice(-RECENT_MAX);
  }

  all(): LiveWindow[] {
    return this.windows.slice(-RECENT_MAX);
  }
}
