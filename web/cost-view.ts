// Where the night's charge went, below the picture: the bill as one bar, when the car went to
// sleep, and what it drew on average.

import { charge, current, time } from '../host/say/quantities.ts';
import { timeWords } from '../host/say/times.ts';
import type { BillLine, BillTold } from '../host/contract/meaning.ts';
import { billColour, billParts, drawBill } from './chart/bill.ts';
import type { BillPart } from './chart/bill.ts';
import type { NightData } from './chart/data.ts';
import { html, toDom } from './dom.ts';
import { fact } from './fact.ts';
import type { Store } from './store.ts';
import { pageSurface } from './surface.ts';

export function mountCost(place: HTMLElement, store: Store): void {
  store.listen((state, before) => {
    if (state.night?.findings === before.night?.findings && state.info === before.info && state.dark === before.dark)
      return;
    // Work in the bay is no night: what it drew while fuses were out tells nothing.
    place.hidden = state.night === null || state.pending || state.info?.bay?.alone === true;
    place.replaceChildren(...(place.hidden ? [] : [bill(state.night!, state.dark), facts(state.night!)]));
  });
}

function facts(night: NightData): HTMLElement {
  const { findings } = night;
  const { asleep } = findings;
  return html('dl', { class: 'facts' }, [
    asleep === null
      ? findings.verdict.code === 'short'
        ? fact('Asleep', 'not yet', 'recorded too short')
        : fact('Asleep', 'never', 'no lasting level was reached')
      : fact(
          'Asleep',
          asleep.after_s < 1 ? 'at once' : `after ${time(asleep.after_s)}`,
          night.start_ms === null ? 'from the start' : `at ${timeWords(night.start_ms).minutes(asleep.after_s)}`,
        ),
    ...(asleep === null
      ? []
      : [fact('Average from then on', current(asleep.mean_mA), 'later levels and wake-ups included')]),
  ]);
}

function bill(night: NightData, dark: boolean): HTMLElement {
  const { findings } = night;
  const parts = billParts(findings.charge);
  const surface = pageSurface(800, 26, dark);
  const drawing = toDom(drawBill(findings.charge, surface));
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
      html('span', { class: 'share' }, [shareWords(part.share, tabledPct(part.key, findings.bill))]),
    ]);
  };
  return html('div', { class: 'bill' }, [
    html('h2', { id: 'cost-title' }, ['Charge bill: ', html('strong', {}, [charge(findings.charge.total_mAh)])]),
    drawing,
    html('ul', {}, parts.map(key)),
  ]);
}

/** The lines of the table that each part of the bar is made of. */
const LINES: Record<BillPart['key'], readonly BillLine['what'][]> = {
  going: ['going-to-sleep'],
  asleep: ['asleep-within', 'asleep-beyond'],
  wakeups: ['family', 'single'],
  gaps: ['gaps'],
};

/** As the table rounds them, so that bar and table say the same; null where it tells no shares. */
function tabledPct(key: BillPart['key'], bill: BillTold | undefined): number | null {
  const lines = (bill?.lines ?? []).filter(({ what, share_pct }) => LINES[key].includes(what) && share_pct !== null);
  return lines.length === 0 ? null : lines.reduce((sum, { share_pct }) => sum + share_pct!, 0);
}

function shareWords(share: number, tabled_pct: number | null): string {
  const pct = tabled_pct ?? Math.round(share * 100);
  return pct === 0 && share > 0 ? 'below 1 %' : `${pct} %`;
}
