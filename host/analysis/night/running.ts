// The same findings while the night is still running. Once a level has been held for long, what comes
// later no longer changes what lay before it (a rise has two hours in which to come back as a wake-up).
// So each look analyses the trace only from the middle of such a level on, and joins the result to the
// parts kept from before. A look costs what that stretch of some three hours costs, however long the
// night. When the night is over, `finish` analyses all of it at once: the same answer as `analyse`, to
// the bit.

import { bisectLeft } from 'd3-array';
import type { Samples, Trace } from '../../contract/capture.ts';
import { wholeOf } from '../levels/asleep.ts';
import { analyse, partsOf } from './analyse.ts';
import type { DescribedExcursion } from '../wakeups/describe.ts';
import type { Findings, Interval, Step } from '../../contract/findings.ts';
import type { AnalysisOptions } from '../../contract/settings.ts';
import { PART_S } from './level-spans.ts';
import type { Polling } from '../levels/polling.ts';
import { findingsOf, reachedPart } from './parts.ts';
import type { NightParts, PartLevel, RunningSum } from './parts.ts';

/**
 * What lies in a held level and is older than this is settled: two hours for a rise to come back, and
 * some minutes.
 */
const OPEN_S = 2 * 3600 + 900;
/**
 * A level is cut no sooner than this after its start, and no later than this before its end: what
 * follows is judged by it.
 */
const AFTER_S = 300;
const BEFORE_S = 1800;
/** Least time from one cut to the next, s: more cuts would cost more than they save. */
const LEAST_S = 1800;

/**
 * Windows or points as they arrived, one element for each. Times in seconds from the start of the
 * night, ascending.
 */
export interface Arrived {
  t_s: Samples;
  /** Null for points. */
  dur_s: Samples | null;
  mean_mA: Samples;
  min_mA: Samples | null;
  max_mA: Samples | null;
}

/** A column that grows at its end. */
class Column {
  private values = new Float64Array(1024);
  length = 0;

  push(more: Samples): void {
    if (this.length + more.length > this.values.length) {
      const grown = new Float64Array(Math.max(this.length + more.length, 2 * this.values.length));
      grown.set(this.values.subarray(0, this.length));
      this.values = grown;
    }
    this.values.set(more, this.length);
    this.length += more.length;
  }

  from(i: number): Float64Array {
    return this.values.subarray(i, this.length);
  }
}

/** The parts before a cut in the middle of a level, and the first sample after it. */
interface Settled {
  sample: number;
  parts: NightParts;
}

/**
 * The analysis of a night that is still being recorded: `add` what arrives, `look` at the findings so
 * far, and `finish` for those of the whole night. Keeps all samples in memory.
 */
export class RunningAnalysis {
  private readonly t_s = new Column();
  private readonly dur_s = new Column();
  private readonly mean_mA = new Column();
  private readonly min_mA = new Column();
  private readonly max_mA = new Column();
  private readonly gaps: Trace['gaps'] = [];
  private settled: Settled | null = null;
  /** How many samples the last look analysed. */
  lookedAt = 0;

  /**
   * @param kind whether windows or points will be added
   * @param start_ms start of the night by the clock, milliseconds since 1970; null where it is not known
   * @param options as for `analyse`; checked at the first look
   */
  constructor(
    private readonly kind: Trace['kind'],
    private readonly start_ms: number | null,
    private readonly options: AnalysisOptions,
  ) {}

  /**
   * Appends samples that follow those added before. `gaps` lie before or between them, as in a trace.
   * O(samples added).
   */
  add({ t_s, dur_s, mean_mA, min_mA, max_mA }: Arrived, gaps: Trace['gaps'] = []): void {
    this.t_s.push(t_s);
    if (dur_s !== null) this.dur_s.push(dur_s);
    this.mean_mA.push(mean_mA);
    if (min_mA !== null) this.min_mA.push(min_mA);
    if (max_mA !== null) this.max_mA.push(max_mA);
    this.gaps.push(...gaps);
  }

  /** The samples from index `sample` on as a trace of their own. */
  private traceFrom(sample: number): Trace {
    const t_s = this.t_s.from(sample),
      from_s = t_s[0] ?? 0;
    const part = (column: Column) => (column.length === 0 ? null : column.from(sample));
    return {
      kind: this.kind,
      start_ms: this.start_ms,
      time: { kind: 'listed', t_s },
      dur_s: part(this.dur_s),
      mean_mA: this.mean_mA.from(sample),
      min_mA: part(this.min_mA),
      max_mA: part(this.max_mA),
      gaps: sample === 0 ? this.gaps : this.gaps.filter((gap) => gap.start_s >= from_s),
    };
  }

  /**
   * The findings so far. O(samples since the last cut), usually those of three hours.
   *
   * @throws RangeError as `analyse` does
   */
  look(): Findings {
    const from = this.settled?.sample ?? 0;
    const tail = partsOf(this.traceFrom(from), this.options);
    this.lookedAt = tail.samples;
    const all = this.settled === null ? tail : joinParts(this.settled.parts, tail);
    const findings = findingsOf(all, this.options);
    this.settle(all, (sample) => shiftedBy(tail.until(sample - from), this.settled?.parts.whole));
    return findings;
  }

  /**
   * The findings of the whole night: those of `analyse`, at its cost.
   *
   * @throws RangeError as `analyse` does
   */
  finish(): Findings {
    return analyse(this.traceFrom(0), this.options);
  }

  /** Moves the cut forward where enough of the night is settled. */
  private settle(all: NightParts, until: (sample: number) => RunningSum): void {
    const from_s = this.settled?.parts.duration_s ?? 0;
    for (let k = all.levels.length - 1; k >= 0; k--) {
      const level = all.levels[k]!;
      const clear_s = latestClearTime(
        [...all.wakeups, ...all.dips],
        Math.min(all.duration_s - OPEN_S, level.end_s - BEFORE_S),
      );
      // Both sides of the cut have whole parts of the level's course.
      const cut_s = Math.floor(clear_s / PART_S) * PART_S;
      if (cut_s < reachedPart(level, this.options.step_mA).begun.t_s + AFTER_S) continue;
      if (cut_s < from_s + LEAST_S) return;
      const t_s = this.t_s.from(0),
        zero_s = t_s[0]!;
      const sample = bisectLeft(t_s, zero_s + cut_s);
      const gaps = this.gaps.filter((gap) => gap.start_s < t_s[sample]!);
      this.settled = { sample, parts: partsBefore({ ...all, samples: sample }, k, until(sample), gaps) };
      return;
    }
  }
}

/** The latest time up to `t_s` that lies in no wake-up or dip, nor near the edge of one. */
function latestClearTime(excursions: readonly DescribedExcursion[], t_s: number): number {
  let clear_s = t_s;
  for (const { found } of [...excursions].sort((a, b) => b.found.start_s - a.found.start_s)) {
    if (found.start_s - AFTER_S < clear_s && clear_s < found.end_s + AFTER_S) clear_s = found.start_s - AFTER_S;
  }
  return clear_s;
}

/** A train up to a cut: its share of pulses and charge. */
function pollingUntil(train: Polling, cut_s: number): Polling {
  if (train.end_s <= cut_s) return train;
  const share = (cut_s - train.start_s) / (train.end_s - train.start_s);
  return { ...train, end_s: cut_s, count: Math.round(share * train.count), charge_mAh: share * train.charge_mAh };
}

/** The parts before a cut in level k. */
function partsBefore(all: NightParts, k: number, cut: RunningSum, gaps: Trace['gaps']): NightParts {
  const level = all.levels[k]!;
  const before = <T>(list: readonly T[], t_s: (item: T) => number) => list.filter((item) => t_s(item) < cut.t_s);
  const course = before(level.course, (part) => part.begun.t_s);
  const known = gaps.flatMap(({ charge_mAh }) => (charge_mAh === null ? [] : [charge_mAh]));
  return {
    ...all,
    duration_s: cut.t_s,
    gaps: before(all.gaps, (gap) => gap.start_s),
    levels: [...all.levels.slice(0, k), { ...level, ...wholeOf(course), course, end_s: cut.t_s }],
    steps: before(all.steps, (step) => step.t_s),
    wakeups: before(all.wakeups, ({ found }) => found.start_s),
    dips: before(all.dips, ({ found }) => found.start_s),
    polling: before(all.polling, ({ start_s }) => start_s).map((train) => pollingUntil(train, cut.t_s)),
    whole: cut,
    gaps_mAh: known.length === 0 ? null : known.reduce((a, b) => a + b, 0),
  };
}

/** A running sum from a cut on as one from the start of the night. */
function shiftedBy(sum: RunningSum, base: RunningSum | undefined): RunningSum {
  if (base === undefined) return sum;
  return {
    t_s: sum.t_s + base.t_s,
    charge_mAh: sum.charge_mAh + base.charge_mAh,
    covered_s: sum.covered_s + base.covered_s,
  };
}

/** The level on both sides of a cut as one. */
function oneLevel(a: PartLevel, b: PartLevel): PartLevel {
  const held_s = a.held_s + b.held_s;
  const share = held_s > 0 ? a.held_s / held_s : 1;
  const level_mA = share * a.level_mA + (1 - share) * b.level_mA;
  const half = ({ level_95_mA: { low, high } }: PartLevel) => (high - low) / 2;
  const half_mA = Math.hypot(share * half(a), (1 - share) * half(b));
  return {
    ...a,
    course: [...a.course, ...b.course],
    end_s: b.end_s,
    held_s,
    level_mA,
    level_95_mA: { low: level_mA - half_mA, high: level_mA + half_mA },
  };
}

/** The settled parts and those found from the cut on as one night. */
function joinParts(settled: NightParts, tail: NightParts): NightParts {
  const by_s = settled.duration_s;
  const span = <T extends { start_s: number; end_s: number }>(item: T): T => ({
    ...item,
    start_s: item.start_s + by_s,
    end_s: item.end_s + by_s,
  });
  const time = ({ low, high }: Interval): Interval => ({ low: low + by_s, high: high + by_s });
  const step = (s: Step): Step => ({ ...s, t_s: s.t_s + by_s, t_95_s: time(s.t_95_s) });
  const excursion = (x: DescribedExcursion): DescribedExcursion => ({
    ...x,
    found: { ...span(x.found), steps: x.found.steps.map(step) },
  });
  const begun = <T extends { begun: RunningSum }>(item: T): T => ({
    ...item,
    begun: shiftedBy(item.begun, settled.whole),
  });
  const levels = tail.levels.map((level) => ({ ...span(begun(level)), course: level.course.map(begun) }));
  const [first, ...later] = levels;
  return {
    ...tail,
    first_mA: settled.first_mA,
    duration_s: by_s + tail.duration_s,
    samples: settled.samples + tail.samples,
    gaps: [...settled.gaps, ...tail.gaps.map(span)],
    levels: [
      ...settled.levels.slice(0, -1),
      ...(first === undefined ? settled.levels.slice(-1) : [oneLevel(settled.levels.at(-1)!, first)]),
      ...later,
    ],
    steps: [...settled.steps, ...tail.steps.map(step)],
    wakeups: [...settled.wakeups, ...tail.wakeups.map(excursion)],
    dips: [...settled.dips, ...tail.dips.map(excursion)],
    polling: [...settled.polling, ...tail.polling.map(span)],
    whole: shiftedBy(tail.whole, settled.whole),
    gaps_mAh:
      settled.gaps_mAh === null && tail.gaps_mAh === null ? null : (settled.gaps_mAh ?? 0) + (tail.gaps_mAh ?? 0),
  };
}
