// Two captures beside each other, before and after a repair: one axis, and the
// numbers that prove it.

import type { Overview } from '../host/contract/api.ts';
import type { Findings } from '../host/contract/findings.ts';
import { askFindings, askInfo, askOverview, askRepair, wordsOf } from './ask.ts';
import { fillChoice, nightsAmong } from './capture-choice.ts';
import { drawCompare } from './chart/compare.ts';
import type { Side } from './chart/compare.ts';
import { compareRows } from './compare-rows.ts';
import { html, toDom } from './dom.ts';
import { fold } from './fold.ts';
import { titleOf } from './shelf.ts';
import type { Store } from './store.ts';
import { pageSurface } from './surface.ts';

const BINS = 1200;

interface Other {
  name: string;
  findings: Findings;
  whole: Overview;
  start_ms: number | null;
}

// oxlint-disable-next-line max-lines-per-function -- one part of the page, built and kept up to date
export function mountCompare(place: HTMLElement, store: Store): void {
  let other: Other | null = null;
  const choice = html('select', { id: 'compare-other', change: () => void choose(choice.value) });
  const together = html('select', { id: 'compare-together', change: () => draw() }, [
    html('option', { value: 'asleep' }, ['start of sleep']),
    html('option', { value: 'start' }, ['begin together']),
  ]);
  const result = html('div', { class: 'compared' });
  const proof = html('p', { class: 'proof', role: 'status' });
  const said = html('p', { class: 'said', role: 'status' });
  fold(place, 'compare-title', 'Before and after a repair').body.replaceChildren(
    html('div', { class: 'form' }, [
      html('div', { class: 'field' }, [html('label', { for: 'compare-other' }, ['Compare with']), choice]),
      html('div', { class: 'field' }, [html('label', { for: 'compare-together' }, ['Line up by']), together]),
    ]),
    said,
    proof,
    result,
  );
  /** The older night is the one before the repair; without clocks, the open one is the later. */
  const inOrder = (open: Other, one: Other): [Other, Other] =>
    (open.start_ms ?? Infinity) < (one.start_ms ?? -Infinity) ? [open, one] : [one, open];
  /** The question that `proof` answers. */
  let proving = '';
  const prove = async (before: string, after: string) => {
    const { asked } = store.state;
    const question = JSON.stringify([before, after, asked, store.state.night?.duration_s]);
    if (proving === question) return;
    proving = question;
    proof.textContent = '';
    const words = await askRepair(after, before, asked).then(({ sentence }) => sentence, wordsOf);
    if (proving === question) proof.textContent = words;
  };
  const choose = async (name: string) => {
    other = null;
    draw();
    if (name === '') return;
    said.textContent = `Reading ${titleOf(name)}.`;
    try {
      const [info, findings] = await Promise.all([askInfo(name), askFindings(name, store.state.asked)]);
      const whole = await askOverview(name, 0, Math.max(info.duration_s, 1e-3), BINS);
      if (choice.value !== name) return;
      other = { name, findings, whole, start_ms: info.start_ms };
      said.textContent = '';
      draw();
    } catch (error) {
      said.textContent = wordsOf(error);
    }
  };
  const draw = () => {
    const { night, name, dark, pending } = store.state;
    if (night === null || name === null || other === null || pending) {
      proof.textContent = proving = '';
      result.replaceChildren();
      return;
    }
    const open: Other = { name, findings: night.findings, whole: night.whole, start_ms: night.start_ms };
    const [before, after] = inOrder(open, other);
    void prove(before.name, after.name);
    const side = (one: Other, which: Side['name']): Side => ({
      name: which,
      whole: one.whole,
      after_s: one.findings.asleep?.after_s ?? null,
    });
    const wide = Math.max(280, place.clientWidth);
    const svg = toDom(
      drawCompare(
        [side(before, 'before'), side(after, 'after')],
        together.value === 'start' ? 'start' : 'asleep',
        open.findings.allowance_mA,
        pageSurface(wide, 300, dark),
      ),
    );
    if (svg instanceof SVGElement) svg.setAttribute('aria-hidden', 'true');
    result.replaceChildren(legend(before.name, after.name), svg, table(before.findings, after.findings));
  };
  store.listen((state, past) => {
    place.hidden = state.night === null || state.captures.length < 2;
    if (state.captures !== past.captures || state.name !== past.name)
      fillChoice(choice, nightsAmong(state.captures), state.name, 'no other night');
    if (state.name !== past.name) void choose('');
    else if (other !== null && state.asked !== past.asked) void choose(other.name);
    else if (state.night?.findings !== past.night?.findings || state.dark !== past.dark) draw();
  });
  let width = 0;
  new ResizeObserver(() => {
    if (place.clientWidth === width) return;
    width = place.clientWidth;
    draw();
  }).observe(place);
}

function legend(before: string, after: string): HTMLElement {
  return html('ul', { class: 'legend' }, [
    html('li', {}, [html('span', { class: 'line before', 'aria-hidden': 'true' }), `before: ${titleOf(before)}`]),
    html('li', {}, [html('span', { class: 'line after', 'aria-hidden': 'true' }), `after: ${titleOf(after)}`]),
  ]);
}

function table(before: Findings, after: Findings): HTMLElement {
  const head = ['before', 'after', 'change'].map((text) => html('th', { scope: 'col' }, [text]));
  return html('table', {}, [
    html('thead', {}, [html('tr', {}, [html('td'), ...head])]),
    html(
      'tbody',
      {},
      compareRows(before, after).map((row) =>
        html('tr', {}, [
          html('th', { scope: 'row' }, [row.what]),
          html('td', {}, [row.before]),
          html('td', {}, [row.after]),
          html('td', {}, [row.change]),
        ]),
      ),
    ),
  ]);
}
