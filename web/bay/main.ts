// The bay's page: shows the work beside one recording, or how to begin it.

import { byId } from '../dom.ts';
import { Follow, now_ms } from '../live/follow.ts';
import { runs } from '../live/state.ts';
import { mountLiveTheme } from '../live/theme.ts';
import { Tone } from '../live/tone.ts';
import { wakeVoice } from '../live/voice.ts';
import { BeginView } from './begin.ts';
import { WorkView } from './work.ts';

const tone = new Tone();
const follow = new Follow();
const begin = new BeginView(byId('begin-work'), open);
let wanted = new URLSearchParams(location.search).get('name');
let work: WorkView | null = null;

function open(name: string): void {
  wanted = name;
  history.replaceState(null, '', `?name=${encodeURIComponent(name)}`);
  follow.redraw();
}

/** The one that was asked for; else the newest that runs. */
function shownName(): string | null {
  const { state } = follow;
  if (wanted !== null && (state.get(wanted)?.bay ?? null) !== null) return wanted;
  return [...state].filter(([, { recording, bay }]) => bay !== null && runs(recording)).at(-1)?.[0] ?? null;
}

function draw(): void {
  const name = shownName();
  const one = name === null ? undefined : follow.state.get(name);
  if (name !== (work?.name ?? null)) {
    work?.element.remove();
    work = name === null ? null : new WorkView(name, one!.bay!, tone, now_ms);
    if (work !== null) byId('work').append(work.element);
  }
  if (one !== undefined) work!.update(one, follow.connected);
  byId('work').hidden = one === undefined;
  byId('begin').hidden = one !== undefined && runs(one.recording) && one.missing !== 'left';
}

mountLiveTheme(byId('theme'), follow.redraw);
wakeVoice();
follow.start({ draw, lists: begin });
addEventListener('keydown', (event) => {
  const at = event.target as HTMLElement;
  // Where a key has a meaning of its own it keeps it.
  const own =
    at.closest('input, select, textarea') !== null ||
    (/^(Enter| )$/.test(event.key) && at.closest('button, a, summary') !== null);
  if (event.defaultPrevented || event.ctrlKey || event.altKey || event.metaKey || event.repeat || own) return;
  if (work?.key(event.key) === true) event.preventDefault();
});
// A finger leaves no focus behind, or the foot switch's Enter would press that button again.
addEventListener('click', ({ detail }) => {
  if (detail === 0) return;
  // A label hands the focus on after this.
  setTimeout(() => {
    const at = document.activeElement;
    if (
      (at instanceof HTMLElement || at instanceof SVGElement) &&
      at.matches('button, summary, input[type="checkbox"], [role="treeitem"]')
    )
      at.blur();
  });
});
