// Marks set while a board is being recorded: the instant is taken when the button is
// pressed, the words come after it.

import type { Mark } from '../chart/data.ts';
import { html } from '../dom.ts';
import { wordsOf } from '../ask.ts';
import { wait } from '../opening.ts';
import { askMarks, removeMark, setMark } from './send.ts';
import { elapsedWords } from './words.ts';

/** As long as the server takes (api.ts). */
const TEXT_MAX = '500';
const WAIT_MS = 100;
const WAIT_MOST_MS = 5000;

export class Marks {
  readonly element: HTMLElement;
  marks: readonly Mark[] = [];
  private taken_s: number | null = null;
  private asked = false;
  private asking = 0;
  private readonly list = html('ol', { class: 'marks' });
  private readonly words = html('input', { type: 'text', maxlength: TEXT_MAX, autocomplete: 'off' });
  private readonly when = html('span', { class: 'when' });
  private readonly trouble = html('p', { class: 'trouble', role: 'alert', hidden: true });
  private readonly form: HTMLFormElement;
  readonly button: HTMLButtonElement;

  /**
   * @param newest_s where the trace ends now; null before the first reading
   * @param recorded_s up to where it is on the disk
   * @param changed called when the marks are others
   */
  constructor(
    private readonly name: string,
    private readonly newest_s: () => number | null,
    private readonly recorded_s: () => number,
    private readonly changed: () => void,
  ) {
    this.button = html('button', { type: 'button', click: () => this.take() }, ['Mark this moment']);
    this.form = html(
      'form',
      {
        class: 'mark-form',
        hidden: true,
        submit: (event) => {
          event.preventDefault();
          void this.keep();
        },
      },
      [
        html('label', {}, [this.when, this.words]),
        html('button', { type: 'submit' }, ['Keep mark']),
        html('button', { type: 'button', class: 'quiet', click: () => this.put() }, ['No mark']),
      ],
    );
    this.form.addEventListener('keydown', (event) => {
      if (event.key === 'Escape') this.put();
    });
    this.element = html('div', {}, [this.form, this.trouble, this.list]);
  }

  /** Asks for those that are there already, once. */
  first(): void {
    if (this.asked) return;
    this.asked = true;
    void this.load();
  }

  /** Marks that another device set come with this. */
  async load(): Promise<void> {
    if (!this.asked) return;
    const asking = ++this.asking;
    try {
      const marks = await askMarks(this.name);
      // An answer that was overtaken tells how it was.
      if (asking !== this.asking) return;
      if (JSON.stringify(marks) === JSON.stringify(this.marks)) return;
      this.marks = marks;
      this.draw();
    } catch {
      // The connection's own words tell of it.
    }
  }

  private take(): void {
    const at_s = this.newest_s();
    if (at_s === null) return this.say('There is no reading yet that a mark could stand at.');
    this.taken_s = at_s;
    this.when.textContent = `What happened at ${elapsedWords(at_s)}?`;
    this.form.hidden = false;
    this.words.value = '';
    this.words.focus();
    this.say(null);
  }

  private put(): void {
    this.taken_s = null;
    this.form.hidden = true;
    this.button.focus();
  }

  private async keep(): Promise<void> {
    if (this.taken_s === null) return;
    const { taken_s } = this;
    try {
      // A mark stands in the recording: what is seen now is on the disk half a second later.
      for (let waited_ms = 0; this.recorded_s() < taken_s && waited_ms < WAIT_MOST_MS; waited_ms += WAIT_MS)
        await wait(WAIT_MS);
      await setMark(this.name, taken_s, this.words.value.trim() || 'mark');
      this.say(null);
      this.put();
      await this.load();
    } catch (error) {
      this.say(wordsOf(error));
    }
  }

  private async remove(mark: Mark): Promise<void> {
    try {
      await removeMark(this.name, mark.t_s, mark.text);
      this.say(null);
      this.button.focus();
    } catch (error) {
      this.say(wordsOf(error));
    }
    await this.load();
  }

  private say(trouble: string | null): void {
    this.trouble.hidden = trouble === null;
    this.trouble.textContent = trouble ?? '';
  }

  private draw(): void {
    this.list.replaceChildren(
      ...[...this.marks]
        .sort((a, b) => b.t_s - a.t_s)
        .map((mark) =>
          html('li', {}, [
            html('span', { class: 'when' }, [elapsedWords(mark.t_s)]),
            html('span', { class: 'text' }, [mark.text]),
            html(
              'button',
              {
                type: 'button',
                class: 'quiet',
                'aria-label': `Delete the mark '${mark.text}'`,
                click: () => void this.remove(mark),
              },
              ['Delete'],
            ),
          ]),
        ),
    );
    this.changed();
  }
}
