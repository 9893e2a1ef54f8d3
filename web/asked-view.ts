// What the reader knows of the battery and the complaint: typed here, the night is
// judged by it. Nothing of it is kept; what holds for a workshop stands in its file.

import type { Asked } from './ask.ts';
import { html } from './dom.ts';
import { fold } from './fold.ts';
import { form } from './form.ts';
import type { Field } from './form.ts';
import { judge } from './opening.ts';
import type { Store } from './store.ts';

export function mountAsked(place: HTMLElement, store: Store): void {
  let name: string | null = null;
  const { body } = fold(place, 'asked-title', 'What you know of this car');
  store.listen((state) => {
    const shown = state.night === null || state.pending ? null : state.name;
    if (shown === name) return;
    name = shown;
    place.hidden = shown === null;
    body.replaceChildren(
      ...(shown === null
        ? []
        : [
            html('p', { class: 'more' }, ['Leave empty what you do not know.']),
            form('asked', fields(state.asked), 'Apply', async (values) => {
              // A decimal comma is as good as a point.
              const told = Object.entries(values)
                .map(([key, value]) => [key, value.replace(',', '.')] as const)
                .filter(([, value]) => value !== '');
              await judge(store, Object.fromEntries(told));
              return 'Recalculated: verdict, picture and battery.';
            }),
          ]),
    );
  });
}

function fields(asked: Asked): Field[] {
  return [
    {
      key: 'battery_type',
      label: 'Battery',
      value: asked.battery_type ?? '',
      choices: [
        ['', 'not known'],
        ['flooded', 'flooded'],
        ['agm', 'AGM'],
      ],
    },
    {
      key: 'capacity_Ah',
      label: 'Capacity, Ah',
      hint: 'on its label, 45 to 80 are usual',
      value: asked.capacity_Ah ?? '',
      numeric: true,
    },
    {
      key: 'dead_after_days',
      label: 'Dead after, days',
      hint: 'the complaint',
      value: asked.dead_after_days ?? '',
      numeric: true,
    },
    {
      key: 'allowance_mA',
      label: 'Allowance, mA',
      hint: 'largest draw accepted',
      value: asked.allowance_mA ?? '',
      numeric: true,
    },
  ];
}
