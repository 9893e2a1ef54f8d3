// What can be done with a running recording: hear it, mark it, end it. Ending asks once
// more: a night cannot be repeated.

import { html } from '../dom.ts';
import { wordsOf } from '../ask.ts';
import type { CallOut } from './call-out.ts';
import { stopRecording } from './send.ts';
import { pitch_Hz } from './tone.ts';
import type { Tone } from './tone.ts';

export interface Aloud {
  tone: Tone;
  callOut: CallOut;
}

export class Actions {
  readonly element: HTMLElement;
  private readonly toneButton: HTMLButtonElement;
  private readonly toneWords = html('span', { class: 'sound-words' });
  private readonly sayButton: HTMLButtonElement;
  private readonly sayWords = html('span', { class: 'sound-words' });
  private readonly end: HTMLButtonElement;
  private readonly sure: HTMLElement;
  private readonly trouble = html('p', { class: 'trouble', role: 'alert', hidden: true });

  constructor(
    private readonly name: string,
    private readonly aloud: Aloud,
    private readonly mark: HTMLButtonElement,
    changed: () => void,
  ) {
    const { tone, callOut } = aloud;
    this.toneButton = html(
      'button',
      {
        type: 'button',
        'aria-pressed': 'false',
        click: () => {
          tone.follow(tone.follows === name ? null : name);
          changed();
        },
      },
      ['Tone'],
    );
    this.sayButton = html(
      'button',
      {
        type: 'button',
        'aria-pressed': 'false',
        click: () => {
          callOut.set(name, !callOut.isOn(name));
          changed();
        },
      },
      ['Say steps'],
    );
    this.end = html('button', { type: 'button', class: 'end', click: () => this.ask(true) }, ['End recording']);
    this.sure = html('div', { class: 'sure', role: 'group', 'aria-label': 'End this recording?', hidden: true }, [
      html('span', {}, ['End it? A night cannot be repeated.']),
      html('button', { type: 'button', class: 'end', click: () => void this.stop() }, ['Yes, end it']),
      html('button', { type: 'button', click: () => this.ask(false) }, ['Go on recording']),
    ]);
    this.element = html('div', { class: 'actions' }, [
      html('div', { class: 'row' }, [mark, this.toneButton, this.toneWords, this.sayButton, this.sayWords, this.end]),
      this.sure,
      this.trouble,
    ]);
  }

  /**
   * @param running buttons of a recording that is over are gone
   * @param reachable nothing is asked of a computer that does not answer
   */
  update(running: boolean, reachable: boolean, current_mA: number | null): void {
    const { tone, callOut } = this.aloud;
    this.element.hidden = !running;
    if (!running && tone.follows === this.name) tone.follow(null);
    if (!running) callOut.set(this.name, false);
    const sounds = tone.follows === this.name,
      says = callOut.isOn(this.name);
    show(this.toneButton, sounds, 'Tone');
    this.toneWords.textContent = !sounds
      ? ''
      : current_mA === null
        ? 'silent: no readings'
        : `${Math.round(pitch_Hz(current_mA))} Hz, higher is more`;
    show(this.sayButton, says, 'Say steps');
    this.sayWords.textContent = says ? callOut.manner : '';
    this.end.disabled = this.mark.disabled = !reachable;
  }

  private ask(ask: boolean): void {
    this.sure.hidden = !ask;
    this.end.hidden = ask;
    (ask ? this.sure.querySelector('button') : this.end)?.focus();
  }

  private async stop(): Promise<void> {
    try {
      this.trouble.hidden = true;
      await stopRecording(this.name);
    } catch (error) {
      this.trouble.hidden = false;
      this.trouble.textContent = wordsOf(error);
    }
    this.ask(false);
  }
}

/** On and off are told by the word, too. */
function show(button: HTMLButtonElement, on: boolean, label: string): void {
  const words = `${label}: ${on ? 'on' : 'off'}`;
  if (button.textContent !== words) button.textContent = words;
  button.setAttribute('aria-pressed', String(on));
}
