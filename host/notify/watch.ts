// Which events of a recording are told: a board that is silent for a while, and a battery
// that is low, each once until it is well again; and the end, good or bad.

import type { NotifyEvent } from './webhook.ts';

/** A cable that somebody moves is back by then. */
const SILENT_MS = 60_000;
/** A load that ends lifts a battery by a tenth of a volt. */
const ABOVE_V = 0.1;

export class NightWatch {
  /** On the disk when it was looked at last. */
  private windows = -1;
  private silentSince_ms: number | null = null;
  private toldSilent = false;
  private toldLow = false;

  constructor(
    private readonly capture: string,
    private readonly low_V: number,
    private readonly tell: (event: NotifyEvent) => void,
  ) {}

  /**
   * Called again and again while it records. A board that sends no window measures nothing:
   * unplugged, hung with its cable in, or answering and no more.
   * @param now_ms of a clock that only moves forward
   */
  progressed({ windows, voltage_V }: { windows: number; voltage_V: number | null }, now_ms: number): void {
    this.look(windows > this.windows, voltage_V, now_ms);
    this.windows = windows;
  }

  /** The same by whether it measures. @param now_ms of a clock that only moves forward */
  look(isMeasuring: boolean, voltage_V: number | null, now_ms: number): void {
    this.lookAtBoard(isMeasuring, now_ms);
    if (voltage_V === null) return;
    if (voltage_V > this.low_V + ABOVE_V) this.toldLow = false;
    if (voltage_V > this.low_V || this.toldLow) return;
    this.toldLow = true;
    this.tell({
      event: 'battery-low',
      capture: this.capture,
      sentence: `The battery is down to ${voltage_V.toFixed(2)} V (limit ${this.low_V.toFixed(2)} V).`,
    });
  }

  done(sentence: string): void {
    this.tell({ event: 'night-done', capture: this.capture, sentence });
  }

  /** It ended before it should. */
  stopped(sentence: string): void {
    this.tell({ event: 'recording-stopped', capture: this.capture, sentence });
  }

  private lookAtBoard(isMeasuring: boolean, now_ms: number): void {
    if (isMeasuring) {
      this.silentSince_ms = null;
      this.toldSilent = false;
      return;
    }
    this.silentSince_ms ??= now_ms;
    if (this.toldSilent || now_ms - this.silentSince_ms < SILENT_MS) return;
    this.toldSilent = true;
    this.tell({
      event: 'board-silent',
      capture: this.capture,
      sentence: 'The board has measured nothing for a minute; look at its cable and power.',
    });
  }
}
