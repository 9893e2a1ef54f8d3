// The live page: one panel for each recording, and the list of boards to begin others with.

import { byId, html } from '../dom.ts';
import { BoardsView } from './boards.ts';
import { CallOut } from './call-out.ts';
import { choiceControls, FIRST_CHOICE } from './choices.ts';
import { Follow, now_ms } from './follow.ts';
import { mountLan } from './lan.ts';
import { Panel } from './panel.ts';
import type { Scene } from './panel.ts';
import { runs, without } from './state.ts';
import { mountLiveTheme } from './theme.ts';
import { Tone } from './tone.ts';

const tone = new Tone();
const aloud = { tone, callOut: new CallOut(tone) };
const follow = new Follow();
const panels = new Map<string, Panel>();
const boards = new BoardsView(byId('boards'));
const theme = mountLiveTheme(byId('theme'), follow.redraw);
let choice = FIRST_CHOICE;

function draw(): void {
  const { state } = follow;
  const scene: Scene = { connected: follow.connected, now_ms: now_ms(), dark: theme.state.dark, choice };
  for (const [name, panel] of panels) {
    if (state.has(name)) continue;
    panel.element.remove();
    panels.delete(name);
  }
  for (const [name, one] of state) {
    let panel = panels.get(name);
    if (panel === undefined) {
      panel = new Panel(one, aloud, now_ms, follow.redraw, () => follow.change(without(follow.state, name)));
      panels.set(name, panel);
      // What runs stands before what is over.
      byId('panels').insertBefore(
        panel.element,
        runs(one.recording) ? byId('panels').querySelector('[data-doing="ended"], [data-doing="failed"]') : null,
      );
    }
    panel.update(one, scene);
    if (tone.follows === name) tone.take(panel.current(scene));
  }
  byId('none').hidden = state.size > 0;
  byId('choices').hidden = state.size === 0;
  byId('panels').classList.toggle('several', state.size > 1);
}

byId('choices').append(
  choiceControls((next) => {
    choice = next;
    follow.redraw();
  }),
);
mountLan(byId('lan') as HTMLDetailsElement);
byId('none').append(html('span', {}, [' A board that is clamped on can be found and recorded below.']));
follow.start({
  draw,
  lists: boards,
  pictured: () => panels.forEach((panel) => void panel.marks.load()),
  stepped: ({ name, step }) => {
    panels.get(name)?.step(step);
    const several = [...follow.state.values()].filter(({ recording }) => runs(recording)).length > 1;
    const number = follow.state.get(name)?.recording.board.number?.slice(-2) ?? '';
    aloud.callOut.step(name, step, several ? `Board ${number}` : null);
  },
});
