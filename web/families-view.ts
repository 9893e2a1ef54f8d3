// Families of wake-ups: what each costs, and its members laid over each other.

import { ofWakeUps } from '../host/say/polling.ts';
import type { Overview } from '../host/contract/api.ts';
import { charge, counted, every, time } from '../host/say/quantities.ts';
import type { Findings } from '../host/contract/findings.ts';
import { askOverview, wordsOf } from './ask.ts';
import { drawWaveforms } from './chart/waveforms.ts';
import { html, toDom } from './dom.ts';
import type { Looking } from './looking.ts';
import type { State, Store } from './store.ts';
import { pageSurface } from './surface.ts';

/** More lines than this hide each other; members are taken from all over the night. */
const MEMBERS_MAX = 10;
const FAMILIES_MAX = 6;
const BINS_MAX = 160;
/** Share of a wake-up's length that is shown before it and after it. */
const AROUND = 0.3;
const [WIDTH, HEIGHT] = [320, 140];

type Family = Findings['families'][number];

interface Drawn {
  members: Overview[];
  lead_s: number;
  svgPlace: HTMLElement;
}

export function mountFamilies(place: HTMLElement, store: Store, look: Looking): void {
  let drawn: Drawn[] = [];
  const paint = ({ members, lead_s, svgPlace }: Drawn, dark: boolean) => {
    const svg = toDom(drawWaveforms(members, lead_s, pageSurface(WIDTH, HEIGHT, dark)));
    if (svg instanceof SVGElement) svg.setAttribute('aria-hidden', 'true');
    svgPlace.replaceChildren(svg);
  };
  const draw = (state: State) => {
    drawn = [];
    const findings = state.night?.findings;
    const families = ofWakeUps(findings?.families ?? []).sort(
      (a, b) => b.count * b.charge_mAh - a.count * a.charge_mAh,
    );
    place.hidden = findings === undefined || families.length === 0;
    if (findings === undefined || place.hidden) return;
    const rest = families.length - FAMILIES_MAX;
    place.replaceChildren(
      html('h2', { id: 'families-title' }, ['Families of wake-ups']),
      html('p', { class: 'more' }, [
        'Members laid over each other from the moment at which each begins; the dark line is their mean.',
      ]),
      html(
        'ul',
        { class: 'families' },
        families.slice(0, FAMILIES_MAX).map((family) => {
          const svgPlace = html('div', { class: 'waveforms' });
          overlay(state, findings, family)
            .then((found) => {
              if (found === null || store.state.night?.findings !== findings) return;
              const one = { ...found, svgPlace };
              drawn.push(one);
              paint(one, store.state.dark);
            })
            .catch((error: unknown) => {
              svgPlace.textContent = wordsOf(error);
            });
          return entry(findings, family, svgPlace, look);
        }),
      ),
      ...(rest > 0
        ? [
            html('p', { class: 'more' }, [
              `${counted(rest, 'smaller family', 'smaller families')} in the list of what happened`,
            ]),
          ]
        : []),
    );
  };
  store.listen((state, before) => {
    if (state.night?.findings !== before.night?.findings) draw(state);
    else if (state.dark !== before.dark) drawn.forEach((one) => paint(one, state.dark));
  });
}

function entry(findings: Findings, family: Family, svgPlace: HTMLElement, look: Looking): HTMLElement {
  const often = family.period_s === null ? 'without a period' : every(family.period_s, family.period_chance);
  const first = findings.wakeups.findIndex((wake) => wake.family === family.id);
  return html('li', { 'data-family': String(family.id) }, [
    html('h3', {}, [`Family ${family.id}: ${counted(family.count, 'wake-up')}`]),
    html('p', {}, [
      `${often}, ${time(family.duration_s)} and ${charge(family.charge_mAh)} each, ${charge(family.count * family.charge_mAh)} in all`,
    ]),
    svgPlace,
    html(
      'button',
      {
        type: 'button',
        click: () => look.goTo(`wakeup-${first}`),
        'aria-label': `Show the first of family ${family.id} in the picture`,
      },
      ['Show the first'],
    ),
  ]);
}

/** Stretches of equal length around some members; null where none has its surroundings within the night. */
async function overlay(
  { name, info }: State,
  findings: Findings,
  family: Family,
): Promise<{ members: Overview[]; lead_s: number } | null> {
  if (name === null || info === null) return null;
  const spacing_s = info.duration_s / Math.max(1, info.samples);
  const lead_s = Math.max(family.duration_s * AROUND, 3 * spacing_s);
  const span_s = family.duration_s + 2 * lead_s;
  const all = findings.wakeups.filter(
    (wake) => wake.family === family.id && wake.start_s >= lead_s && wake.start_s - lead_s + span_s <= info.duration_s,
  );
  const count = Math.min(MEMBERS_MAX, all.length);
  if (count === 0) return null;
  const chosen = Array.from({ length: count }, (_, i) => all[Math.floor((i * all.length) / count)]!);
  // No bin is narrower than the readings are apart.
  const bins = Math.max(6, Math.min(BINS_MAX, Math.floor(span_s / spacing_s)));
  const members = await Promise.all(
    chosen.map(({ start_s }) => askOverview(name, start_s - lead_s, start_s - lead_s + span_s, bins)),
  );
  return { members, lead_s };
}
