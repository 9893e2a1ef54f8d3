// One board's panel: the figure, the trace, how it stands, and what can be done.

import type { LiveStep } from '../../host/contract/api.ts';
import { currentScaleWords } from './choices.ts';
import type { TraceChoice } from './choices.ts';
import type { CurrentRange } from '../chart/scales.ts';
import { html } from '../dom.ts';
import { addressOf, titleOf } from '../shelf.ts';
import { paletteOf } from '../theme.ts';
import { Actions } from './actions.ts';
import type { Aloud } from './actions.ts';
import { Marks } from './marks.ts';
import { SoFar } from './so-far.ts';
import { figureOf, runs } from './state.ts';
import type { LiveRecording } from './state.ts';
import { drawTrace } from './trace-canvas.ts';
import { steadyRange, wantedRange } from './trace-range.ts';
import {
  doingMeaning,
  doingOf,
  doingWords,
  elapsedWords,
  figureWords,
  lineWords,
  roomWords,
  SILENT_S,
  stepWords,
  voltageWords,
} from './words.ts';

/** The figure and the facts change so often: more cannot be read. */
const TEXT_EVERY_MS = 250;
const STEPS_SHOWN = 3;
const FIRST_ASKED_S = 2;

export interface Scene {
  connected: boolean;
  now_ms: number;
  dark: boolean;
  choice: TraceChoice;
}

export class Panel {
  readonly element: HTMLElement;
  readonly marks: Marks;
  private readonly actions: Actions;
  private readonly soFar: SoFar;
  private readonly title = html('h2');
  private readonly job = html('p', { class: 'job' });
  private readonly doing = html('p', { class: 'doing' });
  private readonly meaning = html('p', { class: 'doing-more', role: 'status' });
  private readonly number = html('span', { class: 'number' });
  private readonly unit = html('span', { class: 'unit' });
  private readonly canvas = html('canvas', {
    role: 'img',
    'aria-label': 'Current of the last minutes; the figure above says it in words',
  });
  private readonly traceBox: HTMLElement;
  private readonly facts = html('dl', { class: 'live-facts' });
  private readonly said = html('ol', {
    class: 'said',
    'aria-live': 'polite',
    'aria-label': 'Steps as they happen, newest first',
  });
  private readonly night: HTMLElement;
  private readonly bay: HTMLElement;
  private readonly after = html('p', { class: 'after', hidden: true });
  private one: LiveRecording;
  private range: CurrentRange | null = null;
  private rangeOf: TraceChoice | null = null;
  private told_ms = -Infinity;

  constructor(
    first: LiveRecording,
    aloud: Aloud,
    now_ms: () => number,
    private readonly redraw: () => void,
    remove: () => void,
  ) {
    this.one = first;
    const { name } = first.recording;
    this.marks = new Marks(
      name,
      () => this.one.windows.at(-1)?.[0] ?? null,
      () => this.one.recording.recorded_s,
      redraw,
    );
    this.soFar = new SoFar(name, now_ms);
    this.actions = new Actions(name, aloud, this.marks.button, redraw);
    this.bay = html('a', { href: `./bay.html?name=${encodeURIComponent(name)}`, hidden: true }, ['Work in the bay']);
    this.night = html('a', { href: `./${addressOf(name)}` }, ['Open the night']);
    this.traceBox = html('div', { class: 'trace' }, [this.canvas]);
    this.after.append(this.night, html('button', { type: 'button', class: 'quiet', click: remove }, ['Put away']));
    this.element = html(
      'section',
      { class: 'live-board', 'data-name': name, 'aria-label': `Recording ${titleOf(name)}` },
      [
        html('header', {}, [this.title, this.doing, this.job, this.bay]),
        this.meaning,
        html('p', { class: 'figure' }, [this.number, this.unit]),
        this.said,
        this.traceBox,
        this.facts,
        this.actions.element,
        this.marks.element,
        this.soFar.element,
        this.after,
      ],
    );
    for (const step of first.steps.slice(-STEPS_SHOWN)) this.step(step);
    new ResizeObserver(() => redraw()).observe(this.traceBox);
  }

  step(step: LiveStep): void {
    const sign = step.to_mA < step.from_mA ? 'down' : 'up';
    this.said.prepend(
      html('li', {}, [
        html('span', { class: `arrow ${sign}`, 'aria-hidden': 'true' }, [sign === 'down' ? '▼' : '▲']),
        html('span', {}, [stepWords(step)]),
        html('span', { class: 'when' }, [`at ${elapsedWords(step.t_s)}`]),
      ]),
    );
    while (this.said.children.length > STEPS_SHOWN) this.said.lastElementChild!.remove();
  }

  /** The current as it is now, mA; null where nobody knows. */
  current(scene: Scene): number | null {
    return doingOf(this.one, scene.connected, scene.now_ms) === 'live' || this.lately(scene)
      ? figureOf(this.one.windows)
      : null;
  }

  private lately({ connected, now_ms }: Scene): boolean {
    return (
      connected &&
      this.one.missing === 'no' &&
      runs(this.one.recording) &&
      this.one.heard_ms !== null &&
      now_ms - this.one.heard_ms <= SILENT_S * 1000
    );
  }

  update(one: LiveRecording, scene: Scene): void {
    this.one = one;
    this.drawTrace(scene);
    const doing = doingOf(one, scene.connected, scene.now_ms);
    if (doing === this.element.getAttribute('data-doing') && scene.now_ms - this.told_ms < TEXT_EVERY_MS) return;
    this.told_ms = scene.now_ms;
    this.element.setAttribute('data-doing', doing);
    const { recording } = one;
    put(this.title, recording.board.number === null ? 'Board' : `Board ${recording.board.number}`);
    put(this.job, recording.job === '' ? titleOf(recording.name) : recording.job);
    put(this.doing, doingWords(doing));
    put(this.meaning, doingMeaning(doing, one, scene.now_ms));
    const { number, unit } = figureWords(this.current(scene));
    put(this.number, number);
    put(this.unit, unit);
    this.drawFacts();
    const running = runs(recording);
    this.actions.update(running, doing !== 'cut' && doing !== 'stopping', this.current(scene));
    this.said.hidden = this.said.childElementCount === 0;
    this.bay.hidden = !recording.bay;
    // What failed before its first reading left no capture.
    this.night.hidden = recording.recorded_s === 0;
    this.after.hidden = running && one.missing !== 'left';
    this.traceBox.hidden = !running;
    // Before the first readings are on the disk there is nothing to ask for.
    if (recording.recorded_s >= FIRST_ASKED_S && doing !== 'cut') {
      this.marks.first();
      if (running) this.soFar.look();
    }
  }

  private drawFacts(): void {
    const { recording } = this.one;
    const line = lineWords(recording.line);
    const length = !runs(recording)
      ? ''
      : recording.for_s === null
        ? 'until it is ended'
        : `of ${elapsedWords(recording.for_s)}`;
    const rows: [string, string, string][] = [
      ['Elapsed', elapsedWords(recording.elapsed_s), length],
      ['Battery', voltageWords(recording.voltage_V), ''],
      [
        'On the disk',
        recording.recordedTo_ms === null
          ? 'nothing yet'
          : `up to ${new Date(recording.recordedTo_ms).toLocaleTimeString('en-GB')}`,
        '',
      ],
      ['Room left for', roomWords(recording.space), ''],
      ['Line', line.word, line.more],
    ];
    if (this.facts.childElementCount === 0) {
      this.facts.append(
        ...rows.map(([label]) =>
          html('div', {}, [
            html('dt', {}, [label]),
            html('dd', {}, [html('span', { class: 'value' }), html('span', { class: 'more' })]),
          ]),
        ),
      );
    }
    rows.forEach(([, value, more], i) => {
      const [first, second] = this.facts.children[i]!.querySelectorAll('dd > span');
      put(first!, value);
      put(second!, more);
    });
  }

  private drawTrace(scene: Scene): void {
    const width = this.traceBox.clientWidth,
      height = this.traceBox.clientHeight;
    if (width === 0 || height === 0) return;
    const { windows, steps, recording, heard_ms } = this.one;
    const newest_s = windows.at(-1)?.[0] ?? 0;
    const silent_s = heard_ms === null ? 0 : (scene.now_ms - heard_ms) / 1000;
    const edge_s = silent_s > SILENT_S && runs(recording) ? newest_s + silent_s * recording.board.speed : newest_s;
    const { kind, span_s } = scene.choice;
    if (this.rangeOf !== scene.choice) this.range = null;
    this.rangeOf = scene.choice;
    this.range = steadyRange(this.range, wantedRange(windows, edge_s - span_s, kind));
    drawTrace(this.canvas, width, height, devicePixelRatio, {
      windows,
      steps,
      marks: this.marks.marks,
      edge_s,
      span_s,
      kind,
      range: this.range,
      palette: paletteOf(scene.dark),
    });
    this.canvas.dataset['drawnTo'] = String(newest_s);
    this.canvas.title = currentScaleWords(kind);
  }
}

/** Text is only touched where it changed: a reader's selection, and a screen reader's place, stay. */
function put(element: Element, text: string): void {
  if (element.textContent !== text) element.textContent = text;
}
