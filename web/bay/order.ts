// The one thing to do: a sentence that is read from the other side of the car, why, what
// to mind, and buttons for greasy hands.

import type { BayAction, BayView } from '../../host/contract/api.ts';
import { wordsOf } from '../ask.ts';
import { html } from '../dom.ts';
import { ACTION_OF, answerWords, stageWords, waitWords } from './words.ts';
import type { Answer } from './words.ts';

/**
 * Two taps within this are one: a foot switch bounces. A tap so soon after another question came was for the last one.
 */
const BOUNCE_MS = 250;

export class OrderView {
  readonly element: HTMLElement;
  private readonly stage = html('p', { class: 'stage' });
  private readonly headline = html('p', { class: 'headline', role: 'status' });
  private readonly why = html('p', { class: 'why' });
  private readonly sight = html('p', { class: 'sight', role: 'status' });
  private readonly wait = html('p', { class: 'wait' });
  private readonly cautions = html('ul', { class: 'cautions', 'aria-label': 'Cautions' });
  private readonly answers = html('div', { class: 'answers', role: 'group', 'aria-label': 'Answer' });
  private readonly drop = html('input', {
    type: 'text',
    inputmode: 'decimal',
    autocomplete: 'off',
    maxlength: '10',
    'aria-label': 'Voltage read, in mV',
  });
  private readonly refusal = html('p', { class: 'trouble', role: 'alert', hidden: true });
  private shown: readonly Answer[] = [];
  private reachable = true;
  /** How many questions were shown. */
  private question = 0;
  /** Answers that were taken when it was shown. */
  private answered = 0;
  /** The question whose answer is on its way; what is shown next may come before the computer's word on it. */
  private answering: number | null = null;
  private tapped_ms = -Infinity;
  private asked_ms = -Infinity;

  /** @param act resolves to what is shown then, when the computer took it; rejects with an Error in words */
  constructor(
    private readonly act: (action: BayAction) => Promise<BayView>,
    private readonly now_ms: () => number,
  ) {
    this.element = html('div', { class: 'order' }, [
      this.stage,
      this.headline,
      this.why,
      this.cautions,
      this.sight,
      this.wait,
      this.answers,
      this.refusal,
    ]);
  }

  /** @param reachable whether what is shown is now, and can be answered */
  update(view: BayView, reachable: boolean): void {
    put(this.stage, stageWords(view));
    // Another question, or the same once more: what was typed belongs to the last one.
    const again = view.answered !== this.answered;
    this.answered = view.answered;
    if (put(this.headline, view.headline) || again) {
      this.question++;
      this.asked_ms = this.now_ms();
      this.drop.value = '';
    }
    put(this.why, view.why);
    put(this.sight, view.sight ?? '');
    put(this.wait, waitWords(view));
    const cautions = view.cautions.join('\n');
    if (this.cautions.dataset['of'] !== cautions) {
      this.cautions.dataset['of'] = cautions;
      this.cautions.replaceChildren(...view.cautions.map((text) => html('li', {}, [text])));
    }
    if (view.answers.join() !== this.shown.join()) this.draw(view.answers);
    this.reachable = reachable;
    this.enable();
  }

  private draw(answers: readonly Answer[]): void {
    const hadFocus = this.answers.contains(document.activeElement);
    this.shown = answers;
    this.drop.value = '';
    this.answers.replaceChildren(
      ...answers.map((answer, i) =>
        answer === 'drop'
          ? this.dropForm()
          : html(
              'button',
              {
                type: 'button',
                class: i === 0 || answer === 'no' ? 'main' : 'other',
                'data-answer': answer,
                click: () => void this.send(ACTION_OF[answer]),
              },
              [answerWords(answer)],
            ),
      ),
    );
    // Who works by the keyboard stays with the answers.
    if (hadFocus) this.answers.querySelector<HTMLElement>('input, button')?.focus();
  }

  private dropForm(): HTMLElement {
    const form = html('form', { class: 'drop' }, [
      this.drop,
      html('span', { 'aria-hidden': 'true' }, ['mV']),
      html('button', { type: 'submit', class: 'main', 'data-answer': 'drop' }, ['Note it']),
    ]);
    form.addEventListener('submit', (event) => {
      event.preventDefault();
      // The next voltage is typed into the same place, and no button keeps the foot switch's Enter.
      this.drop.focus();
      const drop_mV = Number(this.drop.value.trim().replace(',', '.'));
      if (this.drop.value.trim() === '' || !Number.isFinite(drop_mV))
        this.refuse(`'${this.drop.value}' is not a voltage in mV.`);
      else void this.send({ do: 'drop', drop_mV });
    });
    return form;
  }

  /** A digit that was typed while a voltage is asked for. */
  typeDrop(digit: string): void {
    this.drop.value += digit;
    this.drop.focus();
  }

  /** A voltage that was said while one is asked for; `noteDrop` sends it. */
  sayDrop(drop_mV: number): void {
    this.drop.value = String(drop_mV);
  }

  noteDrop(): void {
    this.drop.form?.requestSubmit();
  }

  /** Tells one question from the next, also where both are the same sentence. */
  get asks(): number {
    return this.question;
  }

  /** Sends what was done, and shows why not where it was refused. */
  async send(action: BayAction): Promise<void> {
    const bounces = action.do === 'tap' && this.now_ms() - Math.max(this.tapped_ms, this.asked_ms) < BOUNCE_MS;
    const { question } = this;
    if (this.answering === question || !this.reachable || bounces) return;
    this.answering = question;
    if (action.do === 'tap') this.tapped_ms = this.now_ms();
    this.enable();
    try {
      const { answered } = this;
      const asked = this.headline.textContent;
      const shown = await this.act(isAnswer(action) ? { ...action, asked, answered } : action);
      // What is typed for the next question stays.
      if (action.do === 'drop' && this.question === question) this.drop.value = '';
      this.refusal.hidden = true;
      if (isAnswer(action) && shown.answered === answered) this.notTaken(action, shown.headline === asked);
    } catch (error) {
      this.refuse(wordsOf(error));
    }
    if (this.answering === question) this.answering = null;
    this.enable();
  }

  /** An answer that did nothing; `stands`: the same is still asked. */
  private notTaken(action: BayAction, stands: boolean): void {
    // The car did something while it was typed: what was read then belongs to no level.
    if (action.do === 'drop')
      this.refuse(`${action.drop_mV} mV was not noted: the draw moved just then. Read it again when it is asked for.`);
    else if (stands) this.refuse('That was not taken: it came too soon after the last one. Press again.');
  }

  private refuse(text: string): void {
    this.refusal.hidden = false;
    put(this.refusal, text);
  }

  private enable(): void {
    // Not while it is sent: a button that goes grey loses its focus.
    for (const button of this.answers.querySelectorAll('button')) button.disabled = !this.reachable;
    this.answers.setAttribute('aria-busy', String(this.answering === this.question));
  }
}

/** Whether it answers the question that is shown; a fuse that is named is another matter. */
function isAnswer(action: BayAction): action is Extract<BayAction, { asked?: string | undefined }> {
  return (
    ['tap', 'yes', 'no', 'skip', 'wrong'].includes(action.do) || (action.do === 'drop' && action.name === undefined)
  );
}

/** Text is only touched where it changed: a screen reader reads each change aloud. @returns whether it did */
export function put(element: Element, text: string): boolean {
  if (element.textContent === text) return false;
  element.textContent = text;
  return true;
}
