// Hands every reading on as it arrives, for whoever shows a recording live.

import type { Reading } from '../contract/capture.ts';

export interface LiveReading {
  reading: Reading;
  /** Where it ends on the trace, seconds from the first sample as far as is known now; null before there is one. */
  t_s: number | null;
  /** Sent again by the board: it belongs before others that came already. */
  late: boolean;
}

export type Listener = (live: LiveReading) => void;

/** What a listener throws is its own affair: recording goes on. */
export class LiveFeed {
  private readonly listeners = new Set<Listener>();

  /** @returns ends the subscription */
  subscribe(listener: Listener): () => void {
    this.listeners.add(listener);
    return () => void this.listeners.delete(listener);
  }

  publish(live: LiveReading): void {
    for (const listener of this.listeners) {
      try {
        listener(live);
      } catch {
        this.listeners.delete(listener);
      }
    }
  }
}
