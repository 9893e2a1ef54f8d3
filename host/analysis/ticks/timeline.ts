// When each sample was taken and how long it lasts, whatever the source: windows or points, at a
// fixed spacing or with listed times. Finds the gaps. One pass over listed times, and no array of
// the trace's length.

import type { Trace } from '../../contract/capture.ts';

/** A spacing is a gap when it is longer than both this many medians and this many seconds. */
const GAP_MEDIANS = 5;
const GAP_SHORTEST_S = 2;
/** Most spacings that the median is taken of: all of a short trace, evenly spread ones of a long trace. */
const MEDIAN_SAMPLES_MAX = 1 << 14;

/** A stretch of time, in seconds from the first sample. */
export interface Span {
  start_s: number;
  end_s: number;
}

/** The time axis of a trace, in seconds from its first sample. Both functions are O(1). */
export interface Timeline {
  readonly samples: number;
  /** True for windows, false for points. */
  readonly windows: boolean;
  /** Median spacing of the samples. */
  readonly spacing_s: number;
  /** From the first sample to the end of the last. */
  readonly duration_s: number;
  /** Indices of the samples that a gap follows, ascending. */
  readonly gapAfter: Int32Array;
  readonly gaps: Span[];
  /** Start of sample i; `at(samples)` is the end of the trace. */
  at(i: number): number;
  /**
   * Seconds that sample i stands for: its window, or the time to the next point; the usual spacing
   * before a gap.
   */
  lasts(i: number): number;
}

function medianOf(values: Float64Array): number {
  if (values.length === 0) return 0;
  values.sort();
  return values[values.length >> 1]!;
}

function medianSpacing(t_s: Float64Array): number {
  const spacings = Math.max(0, t_s.length - 1);
  const stride = Math.max(1, Math.ceil(spacings / MEDIAN_SAMPLES_MAX));
  const found = new Float64Array(Math.ceil(spacings / stride));
  for (let i = 0, k = 0; i < spacings; i += stride) found[k++] = t_s[i + 1]! - t_s[i]!;
  return medianOf(found);
}

function checkTimes(trace: Trace, t_s: Float64Array): void {
  if (t_s.length !== trace.mean_mA.length) {
    throw new RangeError(
      `the trace has ${trace.mean_mA.length} samples but ${t_s.length} times; give one time for each sample`,
    );
  }
  for (let i = 0; i < t_s.length; i++) {
    const t = t_s[i]!;
    if (!Number.isFinite(t))
      throw new RangeError(`sample ${i} has the time ${t}; a time must be a finite number of seconds`);
    if (i > 0 && t < t_s[i - 1]!) {
      throw new RangeError(
        `sample ${i} at ${t} s is earlier than the one before it at ${t_s[i - 1]!} s; sort the samples by time`,
      );
    }
  }
}

/** Spacings wide enough to be gaps. A single lost window is not, though its charge is known and counts. */
function findGaps(trace: Trace, t_s: Float64Array, limit_s: number): { gapAfter: number[]; gaps: Span[] } {
  const t0 = t_s[0] ?? 0;
  const gapAfter: number[] = [];
  const gaps: Span[] = [];
  for (let i = 0; i + 1 < t_s.length; i++) {
    if (t_s[i + 1]! - t_s[i]! <= limit_s) continue;
    const end_s = t_s[i + 1]! - t0;
    gapAfter.push(i);
    gaps.push({ start_s: Math.min(end_s, t_s[i]! - t0 + (trace.dur_s?.[i] ?? 0)), end_s });
  }
  return { gapAfter, gaps };
}

/**
 * The time axis of a trace. O(samples) for listed times, else O(1).
 *
 * @throws RangeError that names the sample where times are not finite or not ascending; also where
 * their number differs from that of the samples, or a fixed spacing is not above 0
 */
export function timelineOf(trace: Trace): Timeline {
  const samples = trace.mean_mA.length;
  const { dur_s, time } = trace;
  const windows = trace.kind === 'windows';
  if (time.kind === 'regular') {
    const { step_s } = time;
    if (!(step_s > 0 && Number.isFinite(step_s)))
      throw new RangeError(`the sample spacing is ${step_s} s; it must be above 0`);
    const lasts = dur_s === null ? () => step_s : (i: number) => dur_s[i]!;
    const end_s = samples === 0 ? 0 : (samples - 1) * step_s + (windows ? lasts(samples - 1) : 0);
    const at = (i: number) => (i < samples ? i * step_s : end_s);
    return { samples, windows, spacing_s: step_s, duration_s: end_s, gapAfter: new Int32Array(0), gaps: [], at, lasts };
  }
  const { t_s } = time;
  checkTimes(trace, t_s);
  const spacing_s = medianSpacing(t_s);
  const limit_s = Math.max(GAP_MEDIANS * spacing_s, GAP_SHORTEST_S);
  const { gapAfter, gaps } = findGaps(trace, t_s, limit_s);
  const t0 = t_s[0] ?? 0;
  const toNext = (i: number) => {
    if (i + 1 >= samples) return spacing_s;
    const step_s = t_s[i + 1]! - t_s[i]!;
    return step_s > limit_s ? spacing_s : step_s;
  };
  const lasts = dur_s === null ? toNext : (i: number) => dur_s[i]!;
  const end_s = samples === 0 ? 0 : t_s[samples - 1]! - t0 + (windows ? lasts(samples - 1) : 0);
  const at = (i: number) => (i < samples ? t_s[i]! - t0 : end_s);
  return { samples, windows, spacing_s, duration_s: end_s, gapAfter: Int32Array.from(gapAfter), gaps, at, lasts };
}
