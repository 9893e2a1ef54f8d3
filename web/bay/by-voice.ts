// The button that lets the page listen, and what it understood.

import type { BayView } from '../../host/contract/api.ts';
import { html } from '../dom.ts';
import { heardDoes } from './heard.ts';
import { couldHear, Listening } from './listening.ts';
import { put } from './order.ts';
import type { OrderView } from './order.ts';

export class VoiceAnswers {
  readonly button: HTMLButtonElement;
  readonly words = html('span', { class: 'more', role: 'status' });
  private readonly listening = new Listening(
    () => (this.began = this.order.asks),
    (sentence) => this.hear(sentence),
    (words) => this.show(words),
  );
  /** The question that was asked as somebody began to speak. */
  private began: number | null = null;

  /** @param read reads a text out */
  constructor(
    private readonly order: OrderView,
    private readonly view: () => BayView,
    private readonly read: (text: string) => void,
  ) {
    this.button = html(
      'button',
      {
        type: 'button',
        hidden: !couldHear(),
        'aria-pressed': 'false',
        click: () => void this.listen(!this.listening.on),
      },
      [],
    );
    this.show('');
  }

  async listen(on: boolean): Promise<void> {
    if (on === this.listening.on) return;
    const why = await this.listening.listen(on);
    this.show(why ?? (on ? 'what counts is under “Keys and voice”' : ''));
  }

  /** What the page itself says is no answer. */
  hold(): void {
    this.listening.hold();
  }

  goOn(): void {
    this.listening.goOn();
  }

  private show(words: string): void {
    const on = this.listening.on;
    put(this.button, `Listen for answers: ${on ? 'on' : 'off'}`);
    this.button.setAttribute('aria-pressed', String(on));
    put(this.words, words);
  }

  private hear(sentence: string): void {
    const { began } = this;
    this.began = null;
    const heard = `heard: “${sentence.trim()}”`;
    if (began !== null && began !== this.order.asks)
      return this.show(`${heard}, while another question came; say it again`);
    const does = heardDoes(sentence, this.view());
    this.show(does === null ? `${heard}, no answer to this` : heard);
    if (does === null) return;
    if ('act' in does) void this.order.send(does.act);
    else if ('note' in does) this.order.noteDrop();
    else {
      this.order.sayDrop(does.voltage_mV);
      this.read(`${does.voltage_mV} millivolts. Say: note it.`);
    }
  }
}
