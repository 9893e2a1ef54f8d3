// Holds a capture against what the board really sent: nothing lost that the recorder
// had time for, nothing invented, nothing doubled, gaps and charge where they were.
import { openCapture } from '../../../host/capture/read/reader.ts';
import type { RunReadings } from '../../../host/capture/read/reader.ts';
import type { Trace } from '../../../host/contract/capture.ts';
import type { WindowColumns } from '../../../host/capture/format/blocks.ts';
import type { Car } from '../../../host/emulator/car/car.ts';
import type { SentWindow } from './tampered-board.ts';

/** A stretch of host time in which a recorder had the port and had said that it records. */
export interface Session {
  from_ms: number;
  /** Up to when what was heard must be on the disk. */
  to_ms: number;
}

export interface Verdict {
  problems: string[];
  windows: number;
  gaps: number;
  lost: number;
  /** Largest error of the charge of a run, as a share. */
  chargeError: number;
  /** End of the last sample, seconds from the first. */
  end_s: number;
}

const keyOf = (boot: number, seq: number) => `${boot}/${seq}`;
const FIELDS = ['t_us', 'dur_us', 'count', 'mean_uA', 'min_uA', 'max_uA', 'charge_nC', 'flags'] as const;

export function judge(path: string, sent: readonly SentWindow[], sessions: readonly Session[], car: Car): Verdict {
  const { runs, trace } = ofOneMoment(path);
  const problems: string[] = [];
  const known = new Map(sent.map((entry) => [keyOf(entry.boot, entry.window.seq), entry]));
  const kept = new Set<string>();
  for (const { run, windows } of runs) keep(run.hello.boot, windows, known, kept, problems);
  let lost = 0;
  for (const entry of sent) {
    const key = keyOf(entry.boot, entry.window.seq);
    if (kept.has(key)) continue;
    lost++;
    const due = entry.fate === 'heard' && sessions.some((s) => entry.at_ms >= s.from_ms && entry.at_ms <= s.to_ms);
    if (due) problems.push(`window ${key} was heard at ${entry.at_ms.toFixed(0)} ms and is not in the capture`);
  }
  problems.push(...gapProblems(trace, runs), ...bends(trace, runs, known));
  const end_s = (trace.time.kind === 'listed' ? (trace.time.t_s.at(-1) ?? 0) : 0) + (trace.dur_s?.at(-1) ?? 0);
  return {
    end_s,
    problems,
    windows: kept.size,
    gaps: trace.gaps.length,
    lost,
    chargeError: chargeError(trace, runs, known, car, problems),
  };
}

/** Readings and trace are read one after the other, and a recorder that runs may commit in between. */
function ofOneMoment(path: string): { runs: RunReadings[]; trace: Trace } {
  const capture = openCapture(path);
  try {
    for (let attempt = 0; attempt < 50; attempt++) {
      const runs = capture.readings();
      const trace = capture.trace();
      if (runs.reduce((sum, { windows }) => sum + windows.seq.length, 0) === trace.mean_mA.length)
        return { runs, trace };
    }
    throw new Error(`${path} grew each time it was read`);
  } finally {
    capture.close();
  }
}

/** What a run holds: each window as the board sent it, once, in order. */
function keep(
  boot: number,
  w: WindowColumns,
  known: Map<string, SentWindow>,
  kept: Set<string>,
  problems: string[],
): void {
  for (let i = 0; i < w.seq.length; i++) {
    const key = keyOf(boot, w.seq[i]!);
    const entry = known.get(key);
    if (kept.has(key)) problems.push(`window ${key} is there twice`);
    kept.add(key);
    if (entry === undefined) problems.push(`window ${key} was never sent`);
    else {
      if (entry.fate === 'damaged') problems.push(`window ${key} never came whole and is there`);
      for (const field of FIELDS)
        if (w[field][i] !== entry.window[field])
          problems.push(`window ${key}: ${field} is ${w[field][i]}, sent was ${entry.window[field]}`);
    }
    if (i > 0 && w.t_us[i]! - w.dur_us[i]! < w.t_us[i - 1]!)
      problems.push(`window ${key} begins before the end of the one before`);
  }
}

/** Every hole in the board's own time is a gap of that length and place, and there is no other. */
function gapProblems(trace: Trace, runs: readonly RunReadings[]): string[] {
  const t_s = trace.time.kind === 'listed' ? trace.time.t_s : new Float64Array(0);
  const holes: { start_s: number; end_s: number; within: boolean }[] = [];
  let at = 0;
  for (const { windows: w } of runs) {
    for (let i = 0; i < w.seq.length; i++, at++) {
      if (at === 0) continue;
      const hole = i === 0 || w.t_us[i]! - w.dur_us[i]! > w.t_us[i - 1]!;
      const end_s = t_s[at - 1]! + trace.dur_s![at - 1]!;
      if (hole && t_s[at]! > end_s) holes.push({ start_s: end_s, end_s: t_s[at]!, within: i > 0 });
      if (!hole && Math.abs(t_s[at]! - end_s) > 1e-6)
        return [`sample ${at} does not join the one before, although the board says so`];
      if (t_s[at]! < end_s - 1e-6) return [`sample ${at} overlaps the one before`];
    }
  }
  if (holes.length !== trace.gaps.length) return [`${trace.gaps.length} gaps are told, ${holes.length} are there`];
  return holes.flatMap((hole, i) => {
    const gap = trace.gaps[i]!;
    if (Math.abs(gap.start_s - hole.start_s) > 1e-6 || Math.abs(gap.end_s - hole.end_s) > 1e-6)
      return [
        `gap ${i} is told from ${gap.start_s} to ${gap.end_s} s, and lies from ${hole.start_s} to ${hole.end_s} s`,
      ];
    if (hole.within && gap.charge_mAh === null)
      return [`gap ${i} at ${gap.start_s} s has no charge, although the board kept its power`];
    return [];
  });
}

/** A window's line of some 65 bytes takes this long at 500 000 baud. */
const LINE_S = 0.0013;

/** The car's time at the board's time 0: lines leave it late, never early. */
function bootedAt_s(boot: number, w: WindowColumns, known: Map<string, SentWindow>): number {
  let least_s = Infinity;
  for (let i = 0; i < w.seq.length; i++) {
    const entry = known.get(keyOf(boot, w.seq[i]!));
    if (entry !== undefined) least_s = Math.min(least_s, entry.car_s - w.t_us[i]! / 1e6);
  }
  return least_s - LINE_S;
}

/** Between two boots the host's clock alone tells the time. */
const BOOTS_APART_S = 0.5;

/**
 * How far a gap is from what it was. On a busy computer the emulated board's time waits
 * and catches up: then it is as long as in the car's time, or as on the wire, or between.
 */
function gapError_s(gap_s: number, before: SentWindow, after: SentWindow): number {
  const true_s = [after.car_s - before.car_s, (after.at_ms - before.at_ms) / 1000].map(
    (s) => s - after.window.dur_us / 1e6,
  );
  return gap_s < Math.min(...true_s) ? gap_s - Math.min(...true_s) : Math.max(0, gap_s - Math.max(...true_s));
}

/** Places where the trace's time leaves the board's own, or across a boot the car's: a set clock would do that. */
function bends(trace: Trace, runs: readonly RunReadings[], known: Map<string, SentWindow>): string[] {
  const t_s = trace.time.kind === 'listed' ? trace.time.t_s : new Float64Array(0);
  const problems: string[] = [];
  let at = 0;
  let before: { end_s: number; sent: SentWindow } | null = null;
  for (const { run, windows: w } of runs) {
    const count = w.seq.length;
    if (count === 0) continue;
    const sent = (i: number) => known.get(keyOf(run.hello.boot, w.seq[i]!));
    const end_s = (i: number) => t_s[at + i]! + trace.dur_s![at + i]!;
    for (let i = 1; i < count; i++) {
      const board_s = (w.t_us[i]! - w.t_us[0]!) / 1e6;
      const off_s = end_s(i) - end_s(0) - board_s;
      // A resonator may be 0.5 % off; the emulated one is not.
      if (Math.abs(off_s) > 0.05 + 0.006 * board_s) {
        problems.push(`run ${run.id} is bent by ${off_s} s, ${board_s} s after its begin`);
        break;
      }
    }
    const [first, last] = [sent(0), sent(count - 1)];
    // A window that was never sent is a problem of its own, told elsewhere.
    if (first === undefined || last === undefined) return problems;
    if (before !== null) {
      const off_s = gapError_s(t_s[at]! - before.end_s, before.sent, first);
      if (Math.abs(off_s) > BOOTS_APART_S) problems.push(`the gap before run ${run.id} is ${off_s} s too long`);
    }
    before = { end_s: end_s(count - 1), sent: last };
    at += count;
  }
  return problems;
}

/**
 * Windows and gaps of each run in sum, against what the modelled car drew in that
 * time. Returns the largest error as a share; runs under five seconds tell nothing to 0.1 %.
 */
function chargeError(
  trace: Trace,
  runs: readonly RunReadings[],
  known: Map<string, SentWindow>,
  car: Car,
  problems: string[],
): number {
  const t_s = trace.time.kind === 'listed' ? trace.time.t_s : new Float64Array(0);
  let worst = 0;
  let at = 0;
  for (const { run, windows: w } of runs) {
    const count = w.seq.length;
    const from = at,
      to = at + count;
    at = to;
    if (count < 100) continue;
    const start_s = t_s[from]!,
      end_s = t_s[to - 1]! + trace.dur_s![to - 1]!;
    let charge_mAh = 0;
    for (let i = from; i < to; i++) charge_mAh += (trace.mean_mA[i]! * trace.dur_s![i]!) / 3600;
    for (const gap of trace.gaps) if (gap.start_s >= start_s && gap.end_s <= end_s) charge_mAh += gap.charge_mAh ?? 0;
    const booted_s = bootedAt_s(run.hello.boot, w, known);
    const true_mAh =
      (car.charge_mC(booted_s + w.t_us[count - 1]! / 1e6) -
        car.charge_mC(booted_s + (w.t_us[0]! - w.dur_us[0]!) / 1e6)) /
      3600;
    // The axis is the host's: its rate against the board's own is no error of the charge.
    const rate = (end_s - start_s) / ((w.t_us[count - 1]! - w.t_us[0]! + w.dur_us[0]!) / 1e6);
    if (Math.abs(rate - 1) > 0.006) problems.push(`run ${run.id} is stretched ${rate} times`);
    worst = Math.max(worst, Math.abs(charge_mAh / rate / true_mAh - 1));
  }
  return worst;
}
