// What the live view knows of each recording, from the events of the live stream. Pure.

import type { BayView, LivePicture, LiveStep, LiveWindow, Recording } from '../../host/contract/api.ts';

/** The trace reaches so far back, in the board's time; what is older is in the night's view. */
export const KEPT_S = 120;
/** The figure is the mean of the newest readings over this long: one that changes with each cannot be read. */
const FIGURE_S = 0.5;
const STEPS_MAX = 100;

export interface LiveRecording {
  recording: Recording;
  windows: LiveWindow[];
  steps: LiveStep[];
  /** When the newest window came, on the page's own clock; null before the first. */
  heard_ms: number | null;
  /** The work in the bay beside it, as it stands; null where there is none. */
  bay: BayView | null;
  /**
   * It was being recorded when the connection broke, and the server that answers now does not tell of it: yet, since
   * its board is looked for, or at all, since the board was not found and it is left unfinished.
   */
  missing: 'no' | 'looked-for' | 'left';
}

export type LiveState = ReadonlyMap<string, LiveRecording>;

export const runs = ({ state }: Recording): boolean => state !== 'ended' && state !== 'failed';

const fresh = (recording: Recording): LiveRecording => ({
  recording,
  windows: [],
  steps: [],
  heard_ms: null,
  bay: null,
  missing: 'no',
});

/** All there is to know, at first and after an interruption: what ran and is not told of stays in sight. */
export function withPicture(before: LiveState, { recordings, traces, bays }: LivePicture, now_ms: number): LiveState {
  const next = new Map<string, LiveRecording>();
  for (const [name, known] of before)
    next.set(
      name,
      runs(known.recording) ? { ...known, missing: known.missing === 'left' ? 'left' : 'looked-for' } : known,
    );
  for (const recording of recordings) {
    const trace = traces.find(({ name }) => name === recording.name);
    const windows = trace?.windows ?? before.get(recording.name)?.windows ?? [];
    next.set(recording.name, {
      recording,
      windows: lately(windows),
      steps: trace?.steps ?? before.get(recording.name)?.steps ?? [],
      heard_ms: windows.length === 0 ? null : now_ms - recording.line.silent_s * 1000,
      missing: 'no',
      bay: bays.find(({ name }) => name === recording.name)?.view ?? null,
    });
  }
  return next;
}

export function withStatus(before: LiveState, recording: Recording): LiveState {
  return with_(before, recording.name, {
    ...(before.get(recording.name) ?? fresh(recording)),
    recording,
    missing: 'no',
  });
}

export function withReadings(
  before: LiveState,
  name: string,
  windows: readonly LiveWindow[],
  now_ms: number,
): LiveState {
  const known = before.get(name);
  // A status comes first; what comes without one is of a recording that the next picture tells of.
  if (known === undefined) return before;
  const end_s = known.windows.at(-1)?.[0] ?? -Infinity;
  const added = windows.filter(([t_s]) => t_s > end_s);
  return with_(before, name, { ...known, windows: lately([...known.windows, ...added]), heard_ms: now_ms });
}

export function withStep(before: LiveState, name: string, step: LiveStep): LiveState {
  const known = before.get(name);
  return known === undefined
    ? before
    : with_(before, name, { ...known, steps: [...known.steps, step].slice(-STEPS_MAX) });
}

export function withBay(before: LiveState, name: string, bay: BayView): LiveState {
  const known = before.get(name);
  return known === undefined ? before : with_(before, name, { ...known, bay });
}

/** Those of the names that are still missed are left unfinished. */
export function withLeft(before: LiveState, names: ReadonlySet<string>): LiveState {
  if (![...before].some(([name, { missing }]) => missing === 'looked-for' && names.has(name))) return before;
  return new Map(
    [...before].map(([name, one]) => [
      name,
      one.missing === 'looked-for' && names.has(name) ? { ...one, missing: 'left' as const } : one,
    ]),
  );
}

export function without(before: LiveState, name: string): LiveState {
  const next = new Map(before);
  next.delete(name);
  return next;
}

function with_(before: LiveState, name: string, one: LiveRecording): LiveState {
  return new Map(before).set(name, one);
}

function lately(windows: LiveWindow[]): LiveWindow[] {
  const from_s = (windows.at(-1)?.[0] ?? 0) - KEPT_S;
  const first = windows.findIndex(([t_s]) => t_s >= from_s);
  return first <= 0 ? windows : windows.slice(first);
}

/** The mean of the newest readings, mA; null where there is none. */
export function figureOf(windows: readonly LiveWindow[]): number | null {
  const end_s = windows.at(-1)?.[0];
  if (end_s === undefined) return null;
  let sum = 0,
    length_s = 0;
  for (let i = windows.length - 1; i >= 0; i--) {
    const [t_s, dur_s, mean_mA] = windows[i]!;
    // At a board of many times the speed one window may be longer than that.
    if (length_s > 0 && t_s - dur_s < end_s - FIGURE_S - 1e-6) break;
    sum += mean_mA * dur_s;
    length_s += dur_s;
  }
  return sum / length_s;
}
