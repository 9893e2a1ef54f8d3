// The page of all nights by car: asks for as many cars as are shown, and again when the server
// tells that something is another.

import type { Fleet, ListChanged } from '../../host/contract/api.ts';
import { counted } from '../../host/say/quantities.ts';
import { askFleet, wordsOf } from '../ask.ts';
import { byId } from '../dom.ts';
import { keepPage } from '../keep-page.ts';
import { sayRunning } from '../live/link.ts';
import { Stream } from '../live/stream.ts';
import { mountLiveTheme } from '../live/theme.ts';
import { drawCar } from './car.ts';

const STEP = 50;
/** At most that many at once (limits.ts). */
const CARS_MAX = 100;
/** Many nights may be read one after the other: the page follows no faster. */
const SPACED_MS = 2000;

let fleet: Fleet | null = null;
let shown = STEP;
let asked_ms = -Infinity;
let timer: ReturnType<typeof setTimeout> | null = null;

const theme = mountLiveTheme(byId('theme'), () => draw());
const more = byId('more');

function draw(): void {
  if (fleet === null) return;
  const { cars, found, nights, unread } = fleet;
  const open = new Set([...document.querySelectorAll('.cars details[open] h3')].map(({ id }) => id));
  byId('cars').replaceChildren(...cars.map((car) => drawCar(car, `of-${car.nights[0]!.name}`, theme.state.dark)));
  for (const details of document.querySelectorAll<HTMLDetailsElement>('.cars details'))
    details.open = open.has(details.querySelector('h3')!.id);
  byId('count').textContent = [
    found === 0
      ? 'No night in this folder yet. Record one, or put a CSV file there: its car appears here by itself'
      : `${counted(found, 'car')}, ${counted(nights, 'night')}`,
    ...(found > cars.length ? [`the worst ${cars.length} are shown`] : []),
    ...(unread > 0 ? [`${counted(unread, 'capture')} not read yet, or not readable`] : []),
  ].join('; ');
  more.hidden = found <= cars.length || shown >= CARS_MAX;
}

async function ask(): Promise<void> {
  asked_ms = performance.now();
  const message = byId('message');
  try {
    fleet = await askFleet(shown);
    message.hidden = true;
    draw();
  } catch (error) {
    message.textContent = wordsOf(error);
    message.hidden = false;
  }
}

function soon(): void {
  timer ??= setTimeout(
    () => {
      timer = null;
      if (!document.hidden) void ask();
    },
    Math.max(0, asked_ms + SPACED_MS - performance.now()),
  );
}

keepPage();
more.addEventListener('click', () => {
  shown = Math.min(CARS_MAX, shown + STEP);
  void ask();
});
soon();
// oxlint-disable-next-line no-new -- it lives as long as the page
new Stream(
  () => performance.now(),
  (event, data) => {
    if (event !== 'changed') return;
    const { version, running } = data as ListChanged;
    sayRunning(byId('live-link'), running);
    if (version !== fleet?.version) soon();
  },
  ({ state }) => {
    if (state === 'lost') soon();
  },
  soon,
  true,
);
