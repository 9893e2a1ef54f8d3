// Order among the captures: the newest night first, and what is known of one stays
// known while it is read anew. Pure.

import type { CaptureSummary } from '../host/contract/api.ts';

/** When the night began; until that is known, when its file was last written. */
function began_ms(capture: CaptureSummary): number {
  const start_ms = capture.state === 'ready' && capture.start !== null ? Date.parse(capture.start) : NaN;
  return Number.isNaN(start_ms) ? capture.written_ms : start_ms;
}

export function newestFirst(captures: CaptureSummary[]): CaptureSummary[] {
  const rank = (capture: CaptureSummary) => (capture.state === 'unreadable' ? 1 : 0);
  return [...captures].sort((a, b) => rank(a) - rank(b) || began_ms(b) - began_ms(a) || (a.name < b.name ? -1 : 1));
}

/** A recording in progress is read again and again: its last summary serves meanwhile. */
export function keptKnown(fresh: CaptureSummary[], known: CaptureSummary[]): CaptureSummary[] {
  const ready = new Map(known.filter((capture) => capture.state === 'ready').map((capture) => [capture.name, capture]));
  return fresh.map((capture) => (capture.state === 'waiting' ? (ready.get(capture.name) ?? capture) : capture));
}

/**
 * The capture to begin with, null while it cannot be told yet: nights that are still
 * being read may be newer, but they are not waited for longer than `patient` says.
 */
export function firstToOpen(captures: CaptureSummary[], patient: boolean): string | null {
  if (patient && captures.some((capture) => capture.state === 'waiting')) return null;
  return newestFirst(captures)[0]?.name ?? null;
}
