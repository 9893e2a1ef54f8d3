// What `bay` shows in the terminal: what to do, once, as plain lines that can be scrolled
// back to; below them one line with the draw of this moment. It rings on a result.

import { current } from '../say/quantities.ts';
import type { BayAnswer, BayView } from '../contract/api-bay.ts';
import { sentence, WIDTH } from './columns.ts';
import type { Output } from './record-screen.ts';
import { plainOf } from './tell.ts';

const ANSWERS: Record<BayAnswer, string> = {
  tap: 'Enter: done',
  yes: 'y: yes',
  no: 'n: no',
  drop: 'type the mV, then Enter',
  skip: 's: not here',
  wrong: 'w: take the last one back',
};
/** Entries that somebody who looks elsewhere wants to hear. */
const RINGS = new Set(['result', 'named', 'found', 'undecided', 'nothing', 'settled', 'moved', 'woke', 'no-bridge']);
/** Told by the headline already. */
const SILENT = new Set(['prepared', 'bridge', 'closing', 'found', 'nothing', 'undecided', 'stopped', 'proof']);

export class BayScreen {
  private headline = '';
  private lastEntry = '';
  private below = false;
  private finished = false;
  private told = '';

  constructor(private readonly output: Output) {}

  /** What a view holds already was told in an earlier run. */
  passOver(view: BayView): void {
    this.freshEntries(view);
  }

  /** Shows what is new in the view. */
  show(view: BayView): void {
    const fresh = this.freshEntries(view);
    for (const { text, code } of fresh) if (!SILENT.has(code)) this.print(this.set(text, '    '));
    if (fresh.some(({ code }) => RINGS.has(code))) this.output.write('\u0007');
    // Once: what goes back in afterwards does not change it.
    if (view.finished !== null && view.finished !== view.headline && !this.finished)
      this.print(this.set(view.finished));
    this.finished = view.finished !== null;
    const order = this.orderOf(view);
    if (order === this.headline) return;
    this.headline = order;
    this.told = '';
    this.print(order);
  }

  private freshEntries(view: BayView): BayView['said'] {
    const keys = view.said.map((entry) => `${entry.t_s} ${entry.text}`);
    const from = keys.lastIndexOf(this.lastEntry) + 1;
    this.lastEntry = keys.at(-1) ?? this.lastEntry;
    return view.said.slice(from);
  }

  private orderOf(view: BayView): string {
    const step = view.step === null ? '' : `${view.step.number}/${view.step.of} `;
    const lines = [this.set(`${step}${view.headline}`, '> ', '  ')];
    if (view.why !== '') lines.push(this.set(view.why, '  '));
    for (const caution of view.cautions) lines.push(this.set(caution, '  ! ', '    '));
    const keys = view.answers
      .filter((answer) => answer !== 'tap' || view.answers[0] === 'tap')
      .map((answer) => ANSWERS[answer])
      .join(', ');
    if (keys !== '') lines.push(this.set(`[${keys}]`, '  ', '   '));
    return lines.join('\n');
  }

  /** Wrapped to the terminal as it is now. */
  private set(text: string, first = '', hang = first): string {
    return sentence(text, first, hang, Math.max(30, Math.min(WIDTH, this.output.columns || WIDTH)));
  }

  /** A word of the program's own on what was just typed or happened. */
  say(text: string): void {
    this.print(this.set(text, '  '));
  }

  /** Keys in a column, what they do beside it. */
  help(lines: readonly (readonly [key: string, does: string])[]): void {
    for (const [key, does] of lines) this.print(this.set(does, `${key.padEnd(16)} `, ' '.repeat(17)));
  }

  print(text: string): void {
    this.output.write(`${this.below ? '\r\u001b[K' : ''}${plainOf(text).replaceAll('\n', '\r\n')}\r\n`);
    this.below = false;
  }

  /** The line that is written over. */
  status(view: BayView, current_mA: number | null, typed: string | null): void {
    const now = current_mA === null ? 'no reading' : `${current(current_mA)}`;
    const wait =
      view.wait === null
        ? ''
        : `, takes about ${Math.max(1, Math.round(view.wait.usually_s / (view.wait.usually_s < 90 ? 1 : 60)))} ${view.wait.usually_s < 90 ? 's' : 'min'}`;
    const width = (this.output.columns || WIDTH) - 1;
    const state = `${now}${view.bridge === 'on' ? ', BRIDGE ON' : ''}${wait}`;
    const sight = view.sight === null || typed !== null ? '' : this.sight(view.sight, width - state.length);
    const text = `${state}${sight}${view.out.length === 0 ? '' : `  out: ${view.out.join(', ')}`}`;
    // Of a long line that is being typed, the end matters.
    this.output.write(`\r\u001b[K${plainOf(typed === null ? text.slice(0, width) : typed.slice(-width))}`);
    this.below = true;
  }

  /** What the readings say of an item: beside the draw where it fits, else above it, once. */
  private sight(sight: string, room: number): string {
    if (sight.length + 2 <= room) return `  ${sight}`;
    const kind = sight.replace(/[\d.-]+/g, '');
    if (kind !== this.told) this.print(this.set(sight, '    '));
    this.told = kind;
    return '';
  }

  places(view: BayView): void {
    for (const draw of view.sought) {
      this.say(
        `${current(draw.amount_mA)}: ${draw.places.map((place) => `${place.name} ${(place.share * 100).toFixed(0)} %${place.odds === null ? '' : ` (evidence ${place.odds})`}`).join(', ')}`,
      );
    }
    if (view.sought.length === 0) this.say('nothing is known yet');
  }

  end(): void {
    if (this.below) this.output.write('\r\u001b[K');
    this.below = false;
  }
}
