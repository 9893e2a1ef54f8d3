// Marks set by hand: a text at the instant that is read out, kept in the capture.

import { count } from '../host/say/quantities.ts';
import { timeWords } from '../host/say/times.ts';
import { setMark, takeMark, wordsOf } from './ask.ts';
import type { Mark } from './chart/data.ts';
import { isCapture } from './details-view.ts';
import { html } from './dom.ts';
import { fold } from './fold.ts';
import { form } from './form.ts';
import type { Looking } from './looking.ts';
import { reread } from './opening.ts';
import type { State, Store } from './store.ts';
import { fitted } from './view.ts';

/** A mark is shown with so much of the night around it, at most. */
const AROUND_S = 1200;

/** Where a new mark goes: the instant read out, else the middle of what is looked at. */
function instant_s({ cursor_s, window }: State): number {
  return cursor_s ?? (window.from_s + window.to_s) / 2;
}

export function mountMarks(place: HTMLElement, store: Store, look: Looking): void {
  const list = html('ul', { 'aria-label': 'Marks' });
  const where = html('p', { class: 'more' });
  const adding = form(
    'mark',
    [{ key: 'text', label: 'New mark', value: '', length_max: 500 }],
    'Set mark',
    async ({ text }) => {
      const { name, night } = store.state;
      if (name === null || night === null) return '';
      if (text === undefined || text === '') throw new Error('Write what happened, then set the mark.');
      const t_s = Math.max(0, Math.round(instant_s(store.state) * 100) / 100);
      await setMark(name, { t_s, text });
      await reread(store, name);
      const field = adding.querySelector('input');
      if (field !== null) field.value = '';
      return `Mark set at ${timeWords(night.start_ms).seconds(t_s)}.`;
    },
  );
  const { details, heading, body } = fold(place, 'marks-title', 'Marks', 'h3');
  body.replaceChildren(list, adding, where);
  store.listen((state, before) => {
    const { night, name } = state;
    if (night === null || name === null) return;
    const words = timeWords(night.start_ms);
    adding.hidden = where.hidden = !isCapture(name);
    where.textContent = `It will be set at ${words.seconds(instant_s(state))}: ${state.cursor_s === null ? 'the middle of the picture, until you point at an instant or press the arrow keys' : 'the instant read out'}.`;
    if (night.marks === before.night?.marks) return;
    place.hidden = night.marks.length === 0 && adding.hidden;
    heading.textContent = night.marks.length === 0 ? 'Marks' : `Marks: ${count(night.marks.length)}`;
    list.replaceChildren(...night.marks.map((mark) => drawMark(mark, words.minutes(mark.t_s), name, store, look)));
  });
  document.getElementById('picture')?.addEventListener('keydown', (event) => {
    if (event.key.toLowerCase() !== 'm' || event.ctrlKey || event.metaKey || event.altKey || adding.hidden) return;
    event.preventDefault();
    details.open = true;
    adding.querySelector('input')?.focus();
  });
}

function drawMark(mark: Mark, time: string, name: string, store: Store, look: Looking): HTMLElement {
  const go = () => {
    const { night, window } = store.state;
    if (night === null) return;
    const half_s = Math.min(AROUND_S, window.to_s - window.from_s) / 2;
    store.set({ cursor_s: mark.t_s });
    look.glide(fitted({ from_s: mark.t_s - half_s, to_s: mark.t_s + half_s }, night.duration_s));
  };
  const remove = () => {
    takeMark(name, { t_s: mark.t_s, text: mark.text })
      .then(() => reread(store, name))
      .catch((error: unknown) => store.set({ message: wordsOf(error) }));
  };
  return html('li', {}, [
    html('button', { type: 'button', class: 'go', click: go }, [
      html('span', { class: 'time' }, [time]),
      ' ',
      html('span', { class: 'title' }, [mark.text]),
    ]),
    ...(isCapture(name)
      ? [
          html(
            'button',
            {
              type: 'button',
              class: 'quiet',
              'aria-label': `Delete the mark '${mark.text}' at ${time}`,
              click: remove,
            },
            ['Delete'],
          ),
        ]
      : []),
  ]);
}
