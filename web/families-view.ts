// Families of wake-ups: each with its members laid over each other and their mean.

import { askOverview } from './ask.ts';
import { drawOverlay } from './chart/overlay.ts';
import type { Member } from './chart/overlay.ts';
import { charge, counted, duration, roughDuration, unbroken } from './chart/format.ts';
import { html, toDom } from './dom.ts';
import type { State, Store } from './store.ts';
import { pageSurface } from './surface.ts';

/** As many are drawn: more would only darken. */
const MEMBERS_MAX = 12;
/** Families drawn, the most frequent first. */
const FAMILIES_MAX = 6;
const BINS = 160;
const WIDTH_PX = 320;
const HEIGHT_PX = 150;
/** Shown before and after a member, as a share of its length. */
const AROUND_SHARE = 0.15;

interface Overlaid {
  members: Member[];
  before_s: number;
  length_s: number;
}

export function mountFamilies(place: HTMLElement, store: Store): void {
  let shown: { key: string; drawn: Map<number, Overlaid> } = { key: '', drawn: new Map() };
  const draw = (state: State) => {
    const families = state.night === null ? [] : [...state.night.findings.families].sort((a, b) => b.count - a.count).slice(0, FAMILIES_MAX);
    place.hidden = families.length === 0;
    place.replaceChildren(html('h3', {}, ['Families of wake-ups']), html('div', { class: 'families' }, families.map((family) => {
      const overlaid = shown.drawn.get(family.id);
      const period = family.period_s === null ? 'no period' : `every ${roughDuration(family.period_s)}`;
      const words = `Family ${family.id}: ${counted(family.count, 'wake-up')}, ${period}, ${duration(family.duration_s)} and ${charge(family.charge_mAh)} each`;
      return html('figure', {}, [
        ...(overlaid === undefined ? [] : [toDom(drawOverlay(overlaid.members, overlaid.before_s, overlaid.length_s, pageSurface(WIDTH_PX, HEIGHT_PX, state.dark)))]),
        html('figcaption', {}, [unbroken(overlaid === undefined ? words : `${words}. ${overlaid.members.length} of them, laid over each other; thick: their mean.`)]),
      ]);
    })));
  };
  const fetch = async (state: State) => {
    const { name, night } = state;
    if (name === null || night === null) return;
    const key = `${name} ${night.findings.families.map(({ id, count }) => `${id}x${count}`).join(' ')}`;
    if (shown.key === key) return;
    shown = { key, drawn: new Map() };
    for (const family of [...night.findings.families].sort((a, b) => b.count - a.count).slice(0, FAMILIES_MAX)) {
      const members = night.findings.wakeups.filter((w) => w.family === family.id);
      const stride = Math.ceil(members.length / MEMBERS_MAX);
      const before_s = Math.max(0.05, AROUND_SHARE * family.duration_s), length_s = family.duration_s + 2 * before_s;
      const asked = members.filter((_, i) => i % stride === 0).filter(({ start_s }) => start_s >= before_s && start_s - before_s + length_s <= night.duration_s);
      const bins = await Promise.all(asked.map(({ start_s }) => askOverview(name, start_s - before_s, start_s - before_s + length_s, BINS).catch(() => null)));
      if (shown.key !== key) return;
      const found = bins.flatMap((b) => (b === null ? [] : [b.mean_mA]));
      if (found.length > 0) shown.drawn.set(family.id, { members: found, before_s, length_s });
      draw(store.state);
    }
  };
  store.listen((state, before) => {
    if (state.night?.findings === before.night?.findings && state.dark === before.dark && state.name === before.name) return;
    draw(state);
    void fetch(state);
  });
}
