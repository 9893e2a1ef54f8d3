// The verdict first and large; below it the two figures that it rests on: what the car draws
// against the allowance, and how often something woke it.

import { ofWakeUps } from '../host/say/polling.ts';
import { axisCurrent, count, counted, current, time, unbroken } from '../host/say/quantities.ts';
import { timeWords } from '../host/say/times.ts';
import type { NightData } from './chart/data.ts';
import { drawGauge } from './chart/gauge.ts';
import { VERDICT_TAGS, WORK_TAG } from '../host/say/verdict.ts';
import { html, toDom } from './dom.ts';
import { fact } from './fact.ts';
import type { State, Store } from './store.ts';
import { pageSurface } from './surface.ts';

const NBSP = '\u00a0';
/** Stretched to the width of its figure. */
const GAUGE = { width: 240, height: 20 };

export function mountVerdict(place: HTMLElement, store: Store): void {
  const draw = (state: State) => {
    const { night, info } = state;
    if (night === null || info === null) {
      place.replaceChildren();
      return;
    }
    const { verdict, warnings } = night.findings;
    if (info.bay?.alone === true) {
      place.dataset['verdict'] = 'work';
      place.replaceChildren(
        html('div', { class: 'opening' }, [
          html('p', { class: 'tag' }, [WORK_TAG]),
          html('p', { class: 'when' }, [whenWords(night, info.job)]),
        ]),
        html('h1', { id: 'verdict-sentence' }, [unbroken(info.bay.sentence)]),
      );
      return;
    }
    if (state.pending) {
      place.dataset['verdict'] = 'pending';
      place.replaceChildren(
        html('div', { class: 'opening' }, [
          html('p', { class: 'tag' }, ['Being worked out']),
          html('p', { class: 'when' }, [whenWords(night, info.job)]),
        ]),
        html('h1', { id: 'verdict-sentence' }, [verdict.sentence]),
      );
      return;
    }
    // A verdict on a wrong reading gets no colour that praises or blames.
    const isGrave = warnings?.some((w) => w.grave) === true;
    place.dataset['verdict'] = isGrave ? 'grave' : verdict.code;
    place.replaceChildren(
      html('div', { class: 'opening' }, [
        html('p', { class: 'tag' }, [isGrave ? 'Not to be relied on' : VERDICT_TAGS[verdict.code]]),
        html('p', { class: 'when' }, [whenWords(night, info.job)]),
      ]),
      html('div', { class: 'said-and-drawn' }, [
        html('h1', { id: 'verdict-sentence' }, [unbroken(verdict.sentence)]),
        facts(night, state.dark),
      ]),
    );
  };
  store.listen((state, before) => {
    if (state.night?.findings !== before.night?.findings || state.info !== before.info || state.dark !== before.dark)
      draw(state);
  });
}

function whenWords(night: NightData, job: string): string {
  const words = timeWords(night.start_ms);
  const first = words.date(0);
  const last = words.date(night.duration_s);
  const until = `${last === null || last === first ? '' : `${last}, `}${words.minutes(night.duration_s)}`;
  const when = first === null ? 'No clock time' : `${first}, ${words.minutes(0)} to ${until}`;
  // Each part breaks as a whole, so that no unit is parted from its number.
  const whole = [when, time(night.duration_s)].map((part) =>
    part.replaceAll(' ', NBSP).replace(`${NBSP}to${NBSP}`, ' to '),
  );
  return [...whole, ...(job === '' ? [] : [job])].join(' · ');
}

function facts({ findings }: NightData, dark: boolean): HTMLElement {
  const { asleep, wakeups, trace, allowance_mA } = findings;
  const families = ofWakeUps(findings.families);
  const folded = families.reduce((sum, family) => sum + family.count, 0);
  const drawn = drawGauge(
    { level_mA: asleep?.level_mA ?? null, mean_mA: asleep?.mean_mA ?? trace.mean_mA, allowance_mA },
    { ...pageSurface(GAUGE.width, GAUGE.height, dark), ...GAUGE },
  );
  const gauge = toDom(drawn);
  if (gauge instanceof SVGElement) {
    gauge.setAttribute('preserveAspectRatio', 'none');
    gauge.setAttribute('aria-hidden', 'true');
  }
  const allowance = `allowance${NBSP}${axisCurrent(allowance_mA)}`;
  // What the second part of the bar stands for, where there is one.
  const woken =
    asleep === null || current(asleep.mean_mA) === current(asleep.level_mA)
      ? ''
      : `${current(asleep.mean_mA)} ${wakeups.length > 0 ? 'with wake-ups' : 'on average'}, `;
  return html('dl', { class: 'facts' }, [
    asleep === null
      ? fact('Average', current(trace.mean_mA), allowance, gauge)
      : fact('Asleep level', current(asleep.level_mA), unbroken(`${woken}${allowance}`), gauge),
    fact('Wake-ups', count(wakeups.length), familyWords(folded, families.length, wakeups.length)),
  ]);
}

function familyWords(folded: number, families: number, all: number): string {
  if (all === 0) return 'nothing woke it';
  if (families === 0) return all === 1 ? 'a one-off' : 'no two alike';
  if (folded < all) return `${count(folded)} in ${counted(families, 'family', 'families')}`;
  return families === 1 ? 'all of one family' : `in ${counted(families, 'family', 'families')}`;
}
