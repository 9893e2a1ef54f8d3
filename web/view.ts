// Arithmetic of looking: which part of the night is in view after a move. Pure.

export interface Window {
  from_s: number;
  to_s: number;
}

/** Nothing is looked at more closely than this. */
export const CLOSEST_S = 0.5;

/** Shifts a window into the night, and shrinks it where it is longer. */
export function fitted(window: Window, duration_s: number): Window {
  const least = Math.min(CLOSEST_S, duration_s);
  const span = Math.min(Math.max(window.to_s - window.from_s, least), duration_s);
  const middle = (window.from_s + window.to_s) / 2;
  const from_s = Math.min(Math.max(middle - span / 2, 0), duration_s - span);
  return { from_s, to_s: from_s + span };
}

/** Zooms by a factor (below 1: closer) and keeps `at_s` where it stands. */
export function zoomed(window: Window, factor: number, at_s: number, duration_s: number): Window {
  const span = window.to_s - window.from_s;
  const target = Math.min(Math.max(span * factor, Math.min(CLOSEST_S, duration_s)), duration_s);
  const share = span > 0 ? (at_s - window.from_s) / span : 0.5;
  const from_s = at_s - share * target;
  return fitted({ from_s, to_s: from_s + target }, duration_s);
}

export function panned(window: Window, by_s: number, duration_s: number): Window {
  return fitted({ from_s: window.from_s + by_s, to_s: window.to_s + by_s }, duration_s);
}

/** The window that shows an event with enough around it to judge it; never wider than now, unless it must. */
export function around(event: { start_s: number; end_s: number }, now: Window, duration_s: number): Window {
  const length = event.end_s - event.start_s;
  const wanted = length > 0 ? Math.max(length * 6, 60) : 1200;
  const span = Math.max(Math.min(wanted, now.to_s - now.from_s), length * 1.4);
  const middle = (event.start_s + event.end_s) / 2;
  return fitted({ from_s: middle - span / 2, to_s: middle + span / 2 }, duration_s);
}

/** A point on the way from one window to another, 0 to 1. */
export function between(a: Window, b: Window, share: number): Window {
  return { from_s: a.from_s + (b.from_s - a.from_s) * share, to_s: a.to_s + (b.to_s - a.to_s) * share };
}

/**
 * The window after the night has grown: the whole stays the whole, one at the end stays at the end, any other stays.
 */
export function followed(window: Window, before_s: number, now_s: number): Window {
  const atEnd = window.to_s >= before_s - 1e-6;
  if (!atEnd) return fitted(window, now_s);
  return window.from_s <= 1e-6 ? { from_s: 0, to_s: now_s } : panned(window, now_s - before_s, now_s);
}
