// The work at one car: the order, the draw of this moment, the bridge, what is out, what
// is known, sound, and the end.

import type { BayAction, BayView } from '../../host/contract/api.ts';
import { html } from '../dom.ts';
import { actInBay, askFeedTree, leaveRecording, stopRecording } from '../live/send.ts';
import { figureOf, runs } from '../live/state.ts';
import type { LiveRecording } from '../live/state.ts';
import type { Tone } from '../live/tone.ts';
import { hush, say, voiceIsThere } from '../live/voice.ts';
import { doingMeaning, doingOf, doingWords, figureWords } from '../live/words.ts';
import { wordsOf } from '../ask.ts';
import { addressOf } from '../shelf.ts';
import { BoxTable } from './box-table.ts';
import { VoiceAnswers } from './by-voice.ts';
import { deeds } from './deeds.ts';
import { FeedView } from './feed-view.ts';
import { SAID_WORDS } from './heard.ts';
import { keyDoes, KEY_WORDS } from './keys.ts';
import { KnownView } from './known.ts';
import { OrderView, put } from './order.ts';
import { freshEntries, spokenOrder, totalWords } from './words.ts';
import type { Said } from './words.ts';

/** The figure changes so often: more cannot be read. */
const FIGURE_EVERY_MS = 250;

export class WorkView {
  readonly element: HTMLElement;
  private readonly order: OrderView;
  private readonly known: KnownView;
  private readonly feed: FeedView;
  private readonly box: BoxTable;
  private treeAsked = false;
  private readonly doing = html('p', { class: 'doing' });
  private readonly meaning = html('p', { class: 'doing-more', role: 'status' });
  private readonly number = html('span', { class: 'number' });
  private readonly unit = html('span', { class: 'unit' });
  private readonly total = html('p', { class: 'more' });
  private readonly bridge: HTMLButtonElement;
  private readonly out = html('p', { class: 'out' });
  private readonly alone = html('p', { class: 'more' });
  private readonly toneButton: HTMLButtonElement;
  private readonly sayButton: HTMLButtonElement;
  private readonly sayWords = html('span', { class: 'more' });
  private readonly byVoice: VoiceAnswers;
  private readonly rest: HTMLElement;
  private readonly ends: HTMLElement;
  private readonly endTrouble = html('p', { class: 'trouble', role: 'alert', hidden: true });
  private readonly after: HTMLElement;
  private readonly finish: HTMLElement;
  /** Single letters can be switched off (WCAG 2.1, 2.1.4): a voice that dictates types them too. */
  private readonly letters = html('input', { type: 'checkbox', id: 'letters', checked: true });
  private view: BayView;
  private reachable = false;
  private speaks = false;
  private spoken: string | null = null;
  private lastSaid: Said | null;
  private figure_ms = -Infinity;

  // oxlint-disable-next-line max-lines-per-function -- one part of the page, from top to bottom
  constructor(
    readonly name: string,
    first: BayView,
    private readonly tone: Tone,
    private readonly now_ms: () => number,
  ) {
    this.view = first;
    this.lastSaid = first.said.at(-1) ?? null;
    const send = (action: BayAction) => actInBay(name, action);
    this.order = new OrderView(send, now_ms);
    this.byVoice = new VoiceAnswers(
      this.order,
      () => this.view,
      (text) => this.speak(text),
    );
    this.known = new KnownView((action) => this.order.send(action));
    this.feed = new FeedView();
    this.box = new BoxTable(send);
    this.bridge = html('button', {
      type: 'button',
      class: 'bridge',
      click: () => void this.order.send({ do: 'bridge', on: this.view.bridge === 'off' }),
    });
    this.toneButton = html(
      'button',
      { type: 'button', 'aria-pressed': 'false', click: () => tone.follow(tone.follows === name ? null : name) },
      ['Tone: off'],
    );
    this.sayButton = html(
      'button',
      { type: 'button', 'aria-pressed': 'false', click: () => this.setSpeaks(!this.speaks) },
      ['Say what to do: off'],
    );
    this.ends = this.drawEnds();
    this.finish = html('div', { class: 'answers', hidden: true }, [
      html('button', { type: 'button', class: 'main', click: () => void this.attempt(() => stopRecording(name)) }, [
        'End the recording',
      ]),
    ]);
    this.after = html('p', { class: 'after', hidden: true }, [
      html('a', { href: `./${addressOf(name)}` }, ['Open this recording']),
    ]);
    this.rest = html('div', { class: 'more-work' }, [
      deeds(send, () => this.element.scrollIntoView(), this.box.element),
      html('details', { class: 'deed' }, [
        html('summary', {}, ['Keys and voice']),
        html('p', { class: 'quick' }, [
          this.letters,
          html('label', { for: 'letters' }, ['Letters and digits work as keys']),
        ]),
        doesList(KEY_WORDS),
        html('p', { class: 'more' }, [
          'Said aloud, where this browser understands speech on this device; nothing that is said leaves it:',
        ]),
        doesList(SAID_WORDS),
      ]),
    ]);
    this.element = html('article', { class: 'work', 'aria-label': 'Work at the car' }, [
      html('div', { class: 'work-main' }, [
        html('header', {}, [this.doing, this.meaning]),
        this.order.element,
        this.finish,
        this.out,
        this.alone,
        html('p', { class: 'figure' }, [this.number, this.unit]),
        this.total,
        html('div', { class: 'row' }, [
          this.bridge,
          this.toneButton,
          this.sayButton,
          this.sayWords,
          this.byVoice.button,
          this.byVoice.words,
        ]),
      ]),
      html('div', { class: 'work-side' }, [this.known.element, this.rest, this.ends, this.endTrouble, this.after]),
      this.feed.element,
    ]);
  }

  update(one: LiveRecording, connected: boolean): void {
    const { recording, bay } = one;
    if (bay === null) return;
    const doing = doingOf(one, connected, this.now_ms());
    const running = runs(recording);
    this.reachable = running && doing !== 'cut' && doing !== 'stopping';
    this.view = bay;
    this.element.setAttribute('data-doing', doing);
    this.element.setAttribute('data-stage', bay.stage);
    put(this.doing, doingWords(doing));
    put(this.meaning, doingMeaning(doing, one, this.now_ms()));
    this.order.update(bay, this.reachable);
    this.known.update(bay);
    this.feed.update(bay);
    this.box.update(bay);
    void this.askTree();
    this.figure(one, doing === 'live');
    put(this.total, totalWords(bay));
    put(
      this.bridge,
      bay.bridge === 'on' ? 'The bridge is on. Tap when it is off' : 'The bridge is off. Tap when it is on',
    );
    this.bridge.disabled = !this.reachable;
    put(this.out, bay.out.length === 0 ? '' : `Out: ${bay.out.join(', ')}`);
    put(this.alone, bay.alone.length === 0 ? '' : `Left alone: ${bay.alone.join(', ')}`);
    this.order.element.hidden = !running;
    // Work that is done is ended with the large button, and asks nothing more.
    this.finish.hidden = !running || bay.stage !== 'done';
    this.rest.hidden = this.ends.hidden = !running || bay.stage === 'done';
    this.after.hidden = running || recording.recorded_s === 0;
    this.sound(running);
  }

  /** Once; where the computer does not answer, the next view asks again. */
  private async askTree(): Promise<void> {
    if (this.treeAsked) return;
    this.treeAsked = true;
    try {
      const tree = await askFeedTree(this.name);
      this.feed.setTree(tree);
      this.box.setTree(tree);
    } catch {
      // The page says by itself that the computer does not answer.
      this.treeAsked = false;
    }
  }

  private figure(one: LiveRecording, live: boolean): void {
    const now_ms = this.now_ms();
    const current_mA = live ? figureOf(one.windows) : null;
    if (this.tone.follows === this.name) this.tone.take(current_mA);
    if (now_ms - this.figure_ms < FIGURE_EVERY_MS) return;
    this.figure_ms = now_ms;
    const { number, unit } = figureWords(current_mA);
    put(this.number, number);
    put(this.unit, unit);
  }

  private sound(running: boolean): void {
    const fresh = freshEntries(this.view.said, this.lastSaid);
    this.lastSaid = this.view.said.at(-1) ?? this.lastSaid;
    const { headline } = this.view;
    if (headline !== this.spoken) {
      // What stood there when the page was opened was not asked for aloud.
      if (this.spoken !== null && this.speaks && running) this.speak(spokenOrder(this.view, fresh));
      this.spoken = headline;
    }
    if (!running && this.tone.follows === this.name) this.tone.follow(null);
    if (!running) void this.byVoice.listen(false);
    switchShown(this.toneButton, 'Tone', this.tone.follows === this.name);
    switchShown(this.sayButton, 'Say what to do', this.speaks);
    put(this.sayWords, this.speaks && !voiceIsThere() ? 'two notes: this browser has no voice' : '');
  }

  private setSpeaks(on: boolean): void {
    this.speaks = on;
    // Within the press of the button, so that later ones are let through.
    if (on) this.speak(spokenOrder(this.view, []));
    else hush();
    this.sound(true);
  }

  private speak(text: string): void {
    if (!voiceIsThere()) return this.tone.signal(true);
    this.byVoice.hold();
    say(text, () => this.byVoice.goOn());
  }

  private drawEnds(): HTMLElement {
    const sure = html('div', { class: 'sure', role: 'group', 'aria-label': 'End this recording?', hidden: true }, [
      html('span', {}, ['End it? The work cannot be gone on with afterwards.']),
      html('button', { type: 'button', class: 'end', click: () => void this.attempt(() => stopRecording(this.name)) }, [
        'Yes, end it',
      ]),
      html('button', { type: 'button', click: () => (sure.hidden = true) }, ['Go on']),
    ]);
    const end = html('button', { type: 'button', class: 'end', click: () => (sure.hidden = false) }, [
      'End the recording',
    ]);
    return html('div', { class: 'ends' }, [
      html('div', { class: 'row' }, [
        html('button', { type: 'button', click: () => void this.attempt(() => leaveRecording(this.name)) }, [
          'Stop for now',
        ]),
        html('span', { class: 'more' }, ['it can be gone on with later']),
        end,
      ]),
      sure,
    ]);
  }

  private async attempt(work: () => Promise<unknown>): Promise<void> {
    this.endTrouble.hidden = true;
    try {
      await work();
    } catch (error) {
      this.endTrouble.hidden = false;
      put(this.endTrouble, wordsOf(error));
    }
  }

  /** @returns whether the key was one of the work */
  key(key: string): boolean {
    const off = !this.letters.checked && /^[\p{L}\p{N}]$/u.test(key);
    const does = off || !this.reachable ? null : keyDoes(key, this.view);
    if (does === null) return false;
    if ('act' in does) void this.order.send(does.act);
    else this.order.typeDrop(does.typeDrop);
    return true;
  }
}

function doesList(pairs: readonly [what: string, does: string][]): HTMLElement {
  return html(
    'dl',
    { class: 'keys' },
    pairs.flatMap(([what, does]) => [html('dt', {}, [what]), html('dd', {}, [does])]),
  );
}

/** On and off are told by the word, too. */
function switchShown(button: HTMLButtonElement, label: string, on: boolean): void {
  put(button, `${label}: ${on ? 'on' : 'off'}`);
  button.setAttribute('aria-pressed', String(on));
}
