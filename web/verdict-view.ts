// The verdict first and large; below it a few facts and the charge bill.

import { ofWakeUps } from '../host/say/polling.ts';
import { axisCurrent, charge, count, counted, current, time, unbroken } from '../host/say/quantities.ts';
import { timeWords } from '../host/say/times.ts';
import { billColour, billParts, drawBill } from './chart/bill.ts';
import type { NightData } from './chart/data.ts';
import { VERDICT_TAGS } from '../host/say/verdict.ts';
import { html, toDom } from './dom.ts';
import type { State, Store } from './store.ts';
import { pageSurface } from './surface.ts';

const NBSP = '\u00a0';

export function mountVerdict(place: HTMLElement, store: Store): void {
  const draw = (state: State) => {
    const { night, info } = state;
    if (night === null || info === null) {
      place.replaceChildren();
      return;
    }
    const { verdict, warnings } = night.findings;
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
      html('h1', { id: 'verdict-sentence' }, [unbroken(verdict.sentence)]),
      html('div', { class: 'facts' }, [facts(night), bill(night, state.dark)]),
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

function facts(night: NightData): HTMLElement {
  const { findings } = night;
  const words = timeWords(night.start_ms);
  const { asleep, wakeups } = findings;
  const families = ofWakeUps(findings.families);
  const fact = (label: string, value: string, more: string) =>
    html('div', {}, [
      html('dt', {}, [label]),
      html('dd', {}, [html('span', { class: 'value' }, [value]), html('span', { class: 'more' }, [more])]),
    ]);
  const folded = families.reduce((sum, family) => sum + family.count, 0);
  return html('dl', {}, [
    asleep === null
      ? findings.verdict.code === 'short'
        ? fact('Asleep', 'not yet', 'recorded too short')
        : fact('Asleep', 'never', 'no lasting level was reached')
      : fact(
          'Asleep',
          asleep.after_s < 1 ? 'at once' : `after ${time(asleep.after_s)}`,
          night.start_ms === null ? 'from the start' : `at ${words.minutes(asleep.after_s)}`,
        ),
    ...(asleep === null
      ? []
      : [fact('Asleep level', current(asleep.level_mA), `allowance ${axisCurrent(findings.allowance_mA)}`)]),
    asleep === null
      ? fact('Average', current(findings.trace.mean_mA), `over ${time(findings.trace.duration_s)}`)
      : fact('Average asleep', current(asleep.mean_mA), 'wake-ups included'),
    fact('Wake-ups', count(wakeups.length), familyWords(folded, families.length, wakeups.length)),
  ]);
}

function familyWords(folded: number, families: number, all: number): string {
  if (all === 0) return 'nothing woke it';
  if (families === 0) return all === 1 ? 'a one-off' : 'no two alike';
  if (folded < all) return `${count(folded)} in ${counted(families, 'family', 'families')}`;
  return families === 1 ? 'all of one family' : `in ${counted(families, 'family', 'families')}`;
}

function bill(night: NightData, dark: boolean): HTMLElement {
  const parts = billParts(night.findings.charge);
  const surface = pageSurface(800, 26, dark);
  const drawing = toDom(drawBill(night.findings.charge, surface));
  if (drawing instanceof SVGElement) {
    drawing.setAttribute('preserveAspectRatio', 'none');
    drawing.setAttribute('aria-hidden', 'true');
  }
  const key = (part: (typeof parts)[number]) => {
    const swatch = html('span', { class: 'swatch', 'aria-hidden': 'true' });
    swatch.style.background = billColour(part.key, surface.palette);
    return html('li', { 'data-part': part.key }, [
      swatch,
      html('span', { class: 'what' }, [part.label]),
      html('span', { class: 'value' }, [charge(part.charge_mAh)]),
      html('span', { class: 'share' }, [shareWords(part.share)]),
    ]);
  };
  return html('div', { class: 'bill' }, [
    html('h2', {}, ['Charge bill: ', html('strong', {}, [charge(night.findings.charge.total_mAh)])]),
    drawing,
    html('ul', {}, parts.map(key)),
  ]);
}

function shareWords(share: number): string {
  if (share > 0 && share < 0.005) return 'below 1 %';
  return `${Math.round(share * 100)} %`;
}
