// What happened, in the order of the night: steps, wake-ups (a family is one entry
// with a way through its members), dips and gaps. A click brings each into the picture.

import type { Findings, WakeUp } from '../host/analysis/findings.ts';
import type { NightData } from './chart/data.ts';
import { change, charge, counted, current, duration, grouped, roughDuration, timeWords } from './chart/format.ts';
import type { TimeWords } from './chart/format.ts';
import { html } from './dom.ts';
import type { Looking } from './looking.ts';
import type { Store } from './store.ts';

/** More entries than this are not read; the largest are kept. */
const ENTRIES_MAX = 250;

interface Entry {
  at_s: number;
  /** Orders what is left out first when there are too many. */
  weight: number;
  kind: 'step' | 'asleep' | 'family' | 'wakeup' | 'dip' | 'gap';
  title: string;
  more: string;
  /** Events that it stands for, in order. */
  ids: string[];
}

export function mountEventList(place: HTMLElement, store: Store, look: Looking): void {
  let entries: Entry[] = [];
  const draw = (night: NightData | null) => {
    place.replaceChildren();
    if (night === null) return;
    const all = entriesOf(night.findings);
    entries = all.length <= ENTRIES_MAX ? all
      : [...all].sort((a, b) => b.weight - a.weight).slice(0, ENTRIES_MAX).sort((a, b) => a.at_s - b.at_s);
    const words = timeWords(night.start_ms);
    place.append(...entries.map((entry) => drawEntry(entry, words, look)));
    if (all.length > entries.length) place.append(html('li', { class: 'rest' }, [`${counted(all.length - entries.length, 'smaller entry', 'smaller entries')} not listed`]));
    if (all.length === 0) place.append(html('li', { class: 'rest' }, ['Nothing: one level all the time.']));
  };
  const mark = (selected: string | null) => {
    entries.forEach((entry, i) => {
      const item = place.children[i];
      if (!(item instanceof HTMLElement)) return;
      const at = selected === null ? -1 : entry.ids.indexOf(selected);
      item.classList.toggle('selected', at >= 0);
      const button = item.querySelector('button.go');
      if (at >= 0) button?.setAttribute('aria-current', 'true');
      else button?.removeAttribute('aria-current');
      const where = item.querySelector('.where');
      if (where !== null) where.textContent = at >= 0 ? `${grouped(at + 1)} of ${grouped(entry.ids.length)}` : `1 to ${grouped(entry.ids.length)}`;
      if (at >= 0) reveal(place, item);
    });
  };
  store.listen((state, before) => {
    const redraw = state.night?.findings !== before.night?.findings;
    if (redraw) draw(state.night);
    if (redraw || state.selected !== before.selected) mark(state.selected);
  });
  place.addEventListener('click', (event) => {
    const button = event.target instanceof Element ? event.target.closest('button[data-step]') : null;
    const item = button?.closest('li');
    if (button === null || button === undefined || item === null || item === undefined) return;
    const entry = entries[[...place.children].indexOf(item)];
    if (entry === undefined) return;
    const at = store.state.selected === null ? -1 : entry.ids.indexOf(store.state.selected);
    const step = Number(button.getAttribute('data-step'));
    const next = at === -1 ? (step > 0 ? 0 : entry.ids.length - 1) : (at + step + entry.ids.length) % entry.ids.length;
    look.goTo(entry.ids[next]!);
  });
}

/** Scrolls the list alone: the page stays where the reader has it. */
function reveal(list: HTMLElement, item: HTMLElement): void {
  const [outer, inner] = [list.getBoundingClientRect(), item.getBoundingClientRect()];
  if (inner.top < outer.top) list.scrollTop -= outer.top - inner.top;
  else if (inner.bottom > outer.bottom) list.scrollTop += inner.bottom - outer.bottom;
}

function drawEntry(entry: Entry, words: TimeWords, look: Looking): HTMLElement {
  const text = [
    html('span', { class: 'time' }, [words.minutes(entry.at_s)]),
    html('span', { class: `sign ${entry.kind}`, 'aria-hidden': 'true' }),
    html('span', { class: 'title' }, [entry.title]),
    html('span', { class: 'more' }, [entry.more]),
  ];
  if (entry.ids.length === 0) return html('li', { 'data-kind': entry.kind }, [html('div', { class: 'go' }, text)]);
  const go = html('button', { type: 'button', class: 'go', click: () => look.goTo(entry.ids[0]!) }, text);
  if (entry.kind !== 'family') return html('li', { 'data-kind': entry.kind, 'data-id': entry.ids[0]! }, [go]);
  const stepper = html('div', { class: 'stepper' }, [
    html('button', { type: 'button', 'data-step': '-1', 'aria-label': 'Wake-up before' }, ['‹']),
    html('span', { class: 'where' }, [`1 to ${grouped(entry.ids.length)}`]),
    html('button', { type: 'button', 'data-step': '1', 'aria-label': 'Next wake-up' }, ['›']),
  ]);
  return html('li', { 'data-kind': entry.kind }, [go, stepper]);
}

function entriesOf(findings: Findings): Entry[] {
  const entries: Entry[] = findings.steps.map((step, i) => ({
    at_s: step.t_s,
    weight: Math.abs(step.to_mA - step.from_mA) + 1e6,
    kind: 'step',
    title: `${change(step.to_mA - step.from_mA)} → ${current(step.to_mA)}`,
    more: `from ${current(step.from_mA)}`,
    ids: [`step-${i}`],
  }));
  if (findings.asleep !== null) {
    const { after_s, level_mA } = findings.asleep;
    entries.push({ at_s: after_s, weight: Infinity, kind: 'asleep', title: 'Asleep', more: `at ${current(level_mA)}, ${after_s < 1 ? 'from the start' : `after ${roughDuration(after_s)}`}`, ids: [] });
  }
  const families = new Map(findings.families.map((family) => [family.id, family]));
  const members = new Map<number, { wake: WakeUp; i: number }[]>();
  findings.wakeups.forEach((wake, i) => {
    if (wake.family === null || !families.has(wake.family)) entries.push(spanEntry('wakeup', 'Wake-up', wake, i));
    else if (members.has(wake.family)) members.get(wake.family)!.push({ wake, i });
    else members.set(wake.family, [{ wake, i }]);
  });
  for (const [id, list] of members) entries.push(familyEntry(families.get(id)!, list));
  findings.dips.forEach((dip, i) => entries.push(spanEntry('dip', 'Dip', dip, i)));
  findings.trace.gaps.forEach((gap, i) =>
    entries.push({ at_s: gap.start_s, weight: 1e9, kind: 'gap', title: 'No readings', more: `for ${roughDuration(gap.end_s - gap.start_s)}`, ids: [`gap-${i}`] }));
  return entries.sort((a, b) => a.at_s - b.at_s || Number(a.kind === 'asleep') - Number(b.kind === 'asleep'));
}

function spanEntry(kind: 'wakeup' | 'dip', name: string, wake: WakeUp, i: number): Entry {
  const length = duration(wake.end_s - wake.start_s);
  const extreme = kind === 'wakeup' ? `peak ${current(wake.peak_mA)}` : `mean ${current(wake.mean_mA)}`;
  return {
    at_s: wake.start_s, weight: Math.abs(wake.charge_mAh), kind, title: `${name}, ${length}`,
    more: `${extreme}, ${charge(wake.charge_mAh)}`, ids: [`${kind}-${i}`],
  };
}

function familyEntry(family: Findings['families'][number], list: { wake: WakeUp; i: number }[]): Entry {
  const every = family.period_s === null ? '' : `, every ${roughDuration(family.period_s)}`;
  const sum = list.reduce((total, { wake }) => total + wake.charge_mAh, 0);
  const peak = list.reduce((most, { wake }) => Math.max(most, wake.peak_mA), -Infinity);
  return {
    at_s: list[0]!.wake.start_s,
    weight: 1e9,
    kind: 'family',
    title: `Family ${family.id}: ${counted(list.length, 'wake-up')}${every}`,
    more: `${duration(family.duration_s)} each, peak ${current(peak)}, ${charge(sum)} in all`,
    ids: list.map(({ i }) => `wakeup-${i}`),
  };
}
