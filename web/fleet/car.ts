// One car in the list: what its newest night says, its figures from night to night, and a way to
// each of them.

import type { Fleet, FleetNight } from '../../host/contract/api.ts';
import { axisCurrent, count, counted, current, unbroken } from '../../host/say/quantities.ts';
import { timeWords } from '../../host/say/times.ts';
import { VERDICT_TAGS } from '../../host/say/verdict.ts';
import { drawTrend } from '../chart/trend.ts';
import type { TrendPoint } from '../chart/trend.ts';
import { html, toDom } from '../dom.ts';
import { titleOf } from '../shelf.ts';
import { paletteOf } from '../theme.ts';

type Car = Fleet['cars'][number];

const WIDTH = 320;
const HEIGHT = 72;

const address = (night: FleetNight) => `./#${encodeURIComponent(night.name)}`;
const wakeUps = ({ wakeups_per_day }: FleetNight) => count(Math.round(wakeups_per_day));

/** `Tue 24 Nov 2026`; a night without a clock has no date. */
function dateOf({ start_ms }: FleetNight): string {
  const date = timeWords(start_ms).date(0);
  return date === null ? 'no date' : `${date} ${new Date(start_ms!).getFullYear()}`;
}

function drawWords({ draw_mA, level_mA }: FleetNight): string {
  const average = `${current(draw_mA)} on average`;
  if (level_mA === null) return `${average}, never asleep`;
  const level = current(level_mA);
  return level === current(draw_mA) ? `${level} asleep` : `${average} asleep, ${level} without wake-ups`;
}

const carName = ({ job, name }: FleetNight) => (job === '' ? titleOf(name) : job);

export function drawCar({ count: all, nights }: Car, id: string, dark: boolean): HTMLElement {
  const newest = nights[0]!;
  const dated = nights.filter(({ start_ms }) => start_ms !== null);
  return html('li', {}, [
    html('div', {}, [
      html('h2', {}, [
        html('a', { href: address(newest) }, [carName(newest)]),
        html('span', { class: 'verdict-tag', 'data-verdict': newest.code }, [VERDICT_TAGS[newest.code]]),
      ]),
      html('p', {}, [
        unbroken(
          `${drawWords(newest)}; allowance ${axisCurrent(newest.allowance_mA)}; ${wakeUps(newest)} wake-ups in 24 h`,
        ),
      ]),
      html('p', { class: 'more' }, [`${dateOf(newest)}, ${counted(all, 'night')}`]),
    ]),
    ...(dated.length < 2 ? [] : [trends(dated, dark)]),
    ...(nights.length < 2 ? [] : [table(nights, all, id)]),
  ]);
}

function trends(nights: readonly FleetNight[], dark: boolean): HTMLElement {
  const trend = (
    title: string,
    say: (value: number) => string,
    figure: (night: FleetNight) => Pick<TrendPoint, 'value' | 'limit'>,
  ) => {
    const points = nights.map((night) => ({ at_ms: night.start_ms!, ...figure(night) }));
    const svg = toDom(drawTrend(points, { width: WIDTH, height: HEIGHT, palette: paletteOf(dark) }));
    if (svg instanceof SVGElement) {
      svg.setAttribute('preserveAspectRatio', 'none');
      // The same figures stand in the table below.
      svg.setAttribute('aria-hidden', 'true');
    }
    const most = points.reduce((top, { value }) => Math.max(top, value ?? 0), 0);
    return html('div', {}, [html('p', {}, [unbroken(`${title}, up to ${say(most)}`)]), svg]);
  };
  return html('div', { class: 'trends' }, [
    trend('Average asleep', current, ({ draw_mA, allowance_mA }) => ({ value: draw_mA, limit: allowance_mA })),
    trend('Asleep level', current, ({ level_mA, allowance_mA }) => ({ value: level_mA, limit: allowance_mA })),
    trend(
      'Wake-ups in 24 h',
      (value) => count(Math.round(value)),
      ({ wakeups_per_day }) => ({ value: wakeups_per_day, limit: null }),
    ),
  ]);
}

function table(nights: readonly FleetNight[], all: number, id: string): HTMLElement {
  const heads = ['night', 'average', 'asleep level', 'wake-ups in 24 h', 'verdict'];
  return html('details', { class: 'fold' }, [
    html('summary', {}, [
      html('h3', { id }, [`Its nights${all > nights.length ? `, the newest ${nights.length}` : ''}`]),
    ]),
    html('div', { class: 'wide', tabindex: '0', role: 'region', 'aria-label': `Nights of ${carName(nights[0]!)}` }, [
      html('table', {}, [
        html('thead', {}, [
          html(
            'tr',
            {},
            heads.map((text) => html('th', { scope: 'col' }, [text])),
          ),
        ]),
        html(
          'tbody',
          {},
          nights.map((night) =>
            html('tr', {}, [
              html('th', { scope: 'row' }, [
                html('a', { href: address(night) }, [night.start_ms === null ? titleOf(night.name) : dateOf(night)]),
              ]),
              html('td', {}, [current(night.draw_mA)]),
              html('td', {}, [night.level_mA === null ? 'never asleep' : current(night.level_mA)]),
              html('td', {}, [wakeUps(night)]),
              html('td', {}, [VERDICT_TAGS[night.code]]),
            ]),
          ),
        ),
      ]),
    ]),
  ]);
}
