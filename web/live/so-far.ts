// What the analysis makes of a recording while it runs: whether the car sleeps, and
// the lasting steps so far. The server keeps it for a while, however many ask.

import { current, time } from '../../host/say/quantities.ts';
import { askFindings } from '../ask.ts';
import { html } from '../dom.ts';
import type { Findings } from '../../host/contract/findings.ts';
import { stepWords } from './words.ts';

const FIRST_AFTER_MS = 8000;
const AGAIN_MS = 20_000;
/** The newest that are listed. */
const STEPS_SHOWN = 6;

/** Pure: one sentence. */
export function sleepWords({ asleep, trace, verdict }: Findings): string {
  if (asleep !== null) return `Asleep since ${time(asleep.after_s)} after the start, at ${current(asleep.level_mA)}.`;
  // `short`: an hour is not over, and sleep is only told from half an hour of one level.
  return verdict.code === 'short'
    ? `Too early to say whether the car sleeps: that takes one level for half an hour, and ${time(trace.duration_s)} are recorded so far.`
    : 'Not asleep so far.';
}

export class SoFar {
  readonly element = html('section', { class: 'so-far', hidden: true });
  private asked_ms: number;
  private asking = false;

  constructor(
    private readonly name: string,
    private readonly now_ms: () => number,
  ) {
    this.asked_ms = now_ms() - AGAIN_MS + FIRST_AFTER_MS;
  }

  /** Called again and again; asks when it is time. */
  look(): void {
    if (this.asking || document.hidden || this.now_ms() - this.asked_ms < AGAIN_MS) return;
    this.asking = true;
    void askFindings(this.name)
      .then(
        (findings) => this.draw(findings),
        () => undefined,
      )
      .finally(() => {
        this.asking = false;
        this.asked_ms = this.now_ms();
      });
  }

  private draw(findings: Findings): void {
    const { steps, wakeups } = findings;
    const shown = steps.slice(-STEPS_SHOWN).reverse();
    this.element.hidden = false;
    this.element.replaceChildren(
      html('h3', {}, ['So far']),
      html('p', {}, [`${sleepWords(findings)} ${wakeups.length === 0 ? '' : `Wake-ups: ${wakeups.length}.`}`]),
      html(
        'ul',
        {},
        shown.map((step) => html('li', {}, [`${time(step.t_s)} after the start: ${stepWords(step)}`])),
      ),
    );
  }
}
