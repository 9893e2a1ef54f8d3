// What the night shows while it is recorded: a note when the car has gone to sleep and
// when something woke it, from the same analysis as in the morning. Windows that the
// board sends again come too late for it; the file has them.

import { current, time, times } from '../say/quantities.ts';
import { DEFAULT_OPTIONS } from '../contract/settings.ts';
import type { Findings } from '../contract/findings.ts';
import { RunningAnalysis } from '../analysis/night/running.ts';
import type { LiveReading } from '../recorder/live.ts';

/** Often enough for whoever looks at the screen now and then. */
const EVERY_S = 600;

export class SoFar {
  private readonly running = new RunningAnalysis('windows', null, DEFAULT_OPTIONS);
  private t_s: number[] = [];
  private dur_s: number[] = [];
  private mean_mA: number[] = [];
  private min_mA: number[] = [];
  private max_mA: number[] = [];
  private next_s = EVERY_S;
  private last_s = -Infinity;
  private said = '';

  constructor(private readonly onNote: (text: string) => void) {}

  take({ reading, t_s, late }: LiveReading): void {
    if (reading.kind !== 'window' || t_s === null || late) return;
    const dur_s = reading.dur_us / 1e6,
      start_s = t_s - dur_s;
    // The clock's fit may move a place a little back.
    if (start_s <= this.last_s) return;
    this.last_s = start_s;
    this.t_s.push(start_s);
    this.dur_s.push(dur_s);
    this.mean_mA.push(reading.mean_uA / 1000);
    this.min_mA.push(reading.min_uA / 1000);
    this.max_mA.push(reading.max_uA / 1000);
    if (t_s >= this.next_s) this.look(t_s);
  }

  private look(t_s: number): void {
    this.next_s = t_s + EVERY_S;
    const column = (values: number[]) => Float64Array.from(values.splice(0));
    this.running.add({
      t_s: column(this.t_s),
      dur_s: column(this.dur_s),
      mean_mA: column(this.mean_mA),
      min_mA: column(this.min_mA),
      max_mA: column(this.max_mA),
    });
    const words = soFarInWords(this.running.look());
    if (words === null || words === this.said) return;
    this.said = words;
    this.onNote(words);
  }
}

/** Null while there is nothing to say. */
export function soFarInWords({ asleep, wakeups }: Findings): string | null {
  if (asleep === null) return null;
  const since = wakeups.filter(({ start_s }) => start_s >= asleep.after_s);
  const woken =
    since.length === 0
      ? 'nothing woke it yet'
      : `woken ${times(since.length)}, the last ${time(since.at(-1)!.end_s - since.at(-1)!.start_s)} with a peak of ${current(since.at(-1)!.peak_mA)}`;
  return `so far: asleep after ${time(asleep.after_s)} at ${current(asleep.level_mA)}; ${woken}`;
}
