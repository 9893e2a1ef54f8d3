// What `record` shows while it runs: one line that is written over on a terminal, a
// line every ten minutes elsewhere, and notes, each with the time of day.

import { WHILE_RECORDING } from '../say/cautions.ts';
import { timeWords } from '../say/times.ts';
import { sentence } from './columns.ts';
import { plainOf } from './tell.ts';
import type { BoardState, Progress, RecordSummary } from '../recorder/record.ts';

/** Where stderr is no terminal: often enough for a log that is looked at in the morning. */
const LOG_EVERY_S = 600;

/** Less is one window, which the next question to the board brings. */
const MISSING_SHOWN_S = 0.1;

/** The part of `process.stderr` that is used. */
export interface Output {
  isTTY?: boolean;
  columns?: number;
  write(text: string): unknown;
}

export class RecordScreen {
  private shown = false;
  private logged_s = -Infinity;

  /** @param low_V at or below it the voltage is marked */
  constructor(
    private readonly output: Output,
    private readonly low_V: number,
    private readonly now: () => Date,
  ) {}

  /** Before the first reading: what to mind while the board is clamped on. */
  begin(): void {
    for (const caution of WHILE_RECORDING) this.output.write(`${sentence(caution, '! ', '  ')}\n`);
  }

  show(progress: Progress, state: BoardState): void {
    const text = progressInWords(progress, state, this.low_V);
    if (this.output.isTTY === true) {
      // A line that wraps could not be written over.
      this.output.write(`\r\u001b[K${text.slice(0, (this.output.columns || 80) - 1)}`);
      this.shown = true;
    } else if (progress.recorded_s - this.logged_s >= LOG_EVERY_S) {
      this.logged_s = progress.recorded_s;
      this.output.write(`${text}\n`);
    }
  }

  note(text: string): void {
    this.output.write(`${this.shown ? '\r\u001b[K' : ''}${clock(this.now())}  ${plainOf(text)}\n`);
    this.shown = false;
  }

  end(): void {
    if (this.shown) this.output.write('\n');
    this.shown = false;
  }
}

const STATES: Record<BoardState, string> = {
  measuring: '',
  away: ', the board is away',
  faulty: ', nothing is measured',
};

/** At most 79 characters up to 99 h and 1000 A, so that it stays one line. */
export function progressInWords(p: Progress, state: BoardState, low_V: number): string {
  const current = p.current_mA === null || state !== 'measuring' ? '' : `, ${p.current_mA.toFixed(1)} mA`;
  const voltage =
    p.voltage_V === null || state !== 'measuring'
      ? ''
      : `, ${p.voltage_V.toFixed(2)} V${p.voltage_V <= low_V ? ' (low)' : ''}`;
  const missing = p.missing_s < MISSING_SHOWN_S ? '' : `, ${seconds(p.missing_s)} missing`;
  return `recorded ${hms(p.recorded_s)}, up to ${clock(new Date(p.recordedTo_ms))}${current}${voltage}${STATES[state]}${missing}`;
}

/** The last word, for standard output. */
export function summaryInWords(out: string, s: RecordSummary): string {
  const resumed = s.resumedAt_s === null ? '' : `, resumed at ${hms(s.resumedAt_s)}; since then`;
  const separator = s.resumedAt_s === null ? ', ' : ' ';
  return (
    `${out}: ${hms(s.recorded_s)} recorded${resumed}${separator}${s.windows} windows, ${seconds(s.missing_s)} missing, ` +
    `${s.lostLines} lines lost on the wire, ${s.badLines} damaged`
  );
}

const seconds = (s: number) => (s >= 120 ? hms(s) : `${s.toFixed(1)} s`);

const clock = (at: Date) => timeWords(at.getTime()).seconds(0);

export function hms(length_s: number): string {
  const whole = Math.floor(length_s);
  const two = (n: number) => String(n).padStart(2, '0');
  return `${Math.floor(whole / 3600)}:${two(Math.floor(whole / 60) % 60)}:${two(whole % 60)}`;
}
