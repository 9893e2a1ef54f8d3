// Another capture beside the open one, on one axis and as numbers: before a repair and
// after it.

import type { Findings } from '../host/analysis/findings.ts';
import { askFindings, askInfo, askOverview } from './ask.ts';
import { charge, counted, current, duration, roughDuration } from './chart/format.ts';
import { drawPair } from './chart/pair.ts';
import type { NightData } from './chart/data.ts';
import { html, toDom } from './dom.ts';
import { wordsOf } from './opening.ts';
import { titleOf } from './shelf.ts';
import type { State, Store } from './store.ts';
import { pageSurface } from './surface.ts';

const BINS = 1500;
const HEIGHT_PX = 260;

interface Other {
  name: string;
  start_ms: number | null;
  findings: Findings;
  whole: NightData['whole'];
}

export function mountCompare(place: HTMLElement, store: Store): void {
  const choice = html('select', { name: 'compare', change: () => void choose(choice.value) });
  const result = html('div', { class: 'compared' });
  const trouble = html('p', { class: 'trouble', role: 'alert' });
  place.append(html('h3', {}, ['Beside another night']), html('label', {}, [html('span', {}, ['Compare with ']), choice]), trouble, result);
  let other: Other | null = null;

  const choose = async (name: string) => {
    // The same again, with other settings: what is there stays until it comes.
    if (other?.name !== name) other = null;
    trouble.textContent = '';
    if (name !== '') {
      try {
        const [info, findings] = await Promise.all([askInfo(name), askFindings(name, store.state.told)]);
        const whole = await askOverview(name, 0, Math.max(info.duration_s, 1e-3), BINS);
        if (choice.value === name) other = { name, start_ms: info.start_ms, findings, whole };
      } catch (error) {
        trouble.textContent = wordsOf(error);
      }
    }
    draw(store.state);
  };
  const draw = (state: State) => {
    if (state.night === null || state.name === null || other === null) return result.replaceChildren();
    const own: Other = { name: state.name, start_ms: state.night.start_ms, findings: state.night.findings, whole: state.night.whole };
    // The earlier one is "before"; without clocks, the open one is "after".
    const ownFirst = own.start_ms !== null && other.start_ms !== null && own.start_ms < other.start_ms;
    const [before, after] = ownFirst ? [own, other] : [other, own];
    const width = Math.max(320, result.clientWidth);
    result.replaceChildren(
      toDom(drawPair({ name: `before: ${titleOf(before.name)}`, bins: before.whole }, { name: `after: ${titleOf(after.name)}`, bins: after.whole }, pageSurface(width, HEIGHT_PX, state.dark))),
      numbers(before, after),
    );
  };
  store.listen((state, before) => {
    const others = state.captures.filter((c) => c.state === 'ready' && c.name !== state.name);
    place.hidden = state.night === null || others.length === 0;
    if (state.captures !== before.captures || state.name !== before.name) {
      const kept = state.name === before.name ? choice.value : '';
      choice.replaceChildren(html('option', { value: '' }, ['no other']), ...others.map(({ name }) => html('option', { value: name }, [titleOf(name)])));
      choice.value = others.some(({ name }) => name === kept) ? kept : '';
      if (choice.value === '') other = null;
      draw(state);
    } else if (state.told !== before.told && choice.value !== '') void choose(choice.value);
    else if (state.night !== before.night || state.dark !== before.dark) draw(state);
  });
}

function numbers(before: Other, after: Other): HTMLElement {
  const row = (what: string, of: (findings: Findings) => string) =>
    html('tr', {}, [html('th', { scope: 'row' }, [what]), html('td', {}, [of(before.findings)]), html('td', {}, [of(after.findings)])]);
  const none = 'not told';
  const told = <T>(value: T | null | undefined, words: (value: T) => string) => (value === null || value === undefined ? none : words(value));
  return html('table', {}, [
    html('thead', {}, [html('tr', {}, [html('td'), html('th', { scope: 'col' }, ['before']), html('th', { scope: 'col' }, ['after'])])]),
    html('tbody', {}, [
      row('recorded', (f) => roughDuration(f.trace.duration_s)),
      row('asleep after', (f) => (f.asleep === null ? 'never' : roughDuration(f.asleep.after_s))),
      row('level asleep', (f) => (f.asleep === null ? none : current(f.asleep.level_mA))),
      row('wake-ups', (f) => counted(f.wakeups.length, 'time')),
      row('mean asleep', (f) => (f.asleep === null ? none : current(f.asleep.mean_mA))),
      row('a day asleep', (f) => told(f.bill?.per_day_mAh, charge)),
      row('days until it may not crank', (f) => told(f.battery.days, ({ low, high }) => `${daysOf(low)} to ${daysOf(high)}`)),
      row('longest wake-up', (f) => (f.wakeups.length === 0 ? 'none' : duration(Math.max(...f.wakeups.map((w) => w.end_s - w.start_s))))),
    ]),
  ]);
}

const daysOf = (days: number): string => (days < 10 ? days.toFixed(1) : String(Math.round(days)));
