// Marks: notes on the time axis, set where the reading stands (or in the middle of what
// is looked at), found again from the list, taken away.

import { askInfo, removeMark, setMark } from './ask.ts';
import type { Mark } from './chart/data.ts';
import { timeWords } from './chart/format.ts';
import { html } from './dom.ts';
import type { Looking } from './looking.ts';
import { wordsOf } from './opening.ts';
import type { State, Store } from './store.ts';
import { around } from './view.ts';

const markTime_s = ({ cursor_s, window }: State): number => cursor_s ?? (window.from_s + window.to_s) / 2;

/** @param picture where the key m leads to the text of a mark */
export function mountMarks(place: HTMLElement, picture: HTMLElement, store: Store, look: Looking): void {
  const list = html('ul', { 'aria-label': 'Marks' });
  const text = html('input', { type: 'text', name: 'mark', maxlength: '500', autocomplete: 'off', required: true });
  const when = html('span', { class: 'when' });
  const trouble = html('p', { class: 'trouble', role: 'alert' });
  const form = html('form', { class: 'mark', submit: (event) => void set(event) }, [
    html('label', {}, [html('span', {}, ['Mark at ', when]), text]),
    html('button', { type: 'submit' }, ['Set mark']),
  ]);
  place.append(html('h3', {}, ['Marks']), list, form, trouble);

  const change = async (work: (name: string) => Promise<unknown>) => {
    const { name } = store.state;
    if (name === null) return;
    trouble.textContent = '';
    try {
      await work(name);
      const info = await askInfo(name);
      const { night } = store.state;
      if (store.state.name === name && night !== null) store.set({ info, night: { ...night, marks: info.marks } });
    } catch (error) {
      trouble.textContent = wordsOf(error);
    }
  };
  const set = async (event: Event) => {
    event.preventDefault();
    const t_s = markTime_s(store.state), words = text.value;
    await change((name) => setMark(name, { t_s, text: words }));
    if (trouble.textContent === '') text.value = '';
  };
  const show = ({ t_s }: Mark) => {
    const { night, window } = store.state;
    if (night === null) return;
    store.set({ cursor_s: t_s });
    look.glide(around({ start_s: t_s, end_s: t_s }, window, night.duration_s));
  };
  const item = (mark: Mark, start_ms: number | null) => html('li', {}, [
    html('button', { type: 'button', class: 'quiet', click: () => show(mark) }, [`${timeWords(start_ms).minutes(mark.t_s)} ${mark.text}`]),
    html('button', { type: 'button', class: 'quiet', 'aria-label': `take away the mark '${mark.text}'`, click: () => void change((name) => removeMark(name, mark)) }, ['take away']),
  ]);
  picture.addEventListener('keydown', (event) => {
    if (event.key !== 'm' || event.ctrlKey || event.metaKey || event.altKey || place.hidden) return;
    event.preventDefault();
    text.focus();
  });
  store.listen((state, before) => {
    const { night, info } = state;
    // A .csv is somebody else's file: nothing is written into it.
    place.hidden = night === null || info === null || !/\.nightdraw$/i.test(info.name);
    if (night === null || place.hidden) return;
    when.textContent = timeWords(night.start_ms).seconds(markTime_s(state));
    if (night.marks !== before.night?.marks) list.replaceChildren(...night.marks.map((mark) => item(mark, night.start_ms)));
  });
}
