// The page that leads through the check of a new board: one sentence, one answer, at the bench or on a phone
// beside it. What is asked, in which words and what it means comes from the server.

import type { ProofAnswer, ProofNow, ProofView } from '../../host/contract/api.ts';
import { wordsOf } from '../ask.ts';
import { cautionList } from '../cautions.ts';
import { byId, html } from '../dom.ts';
import { answerProof, askProof, beginProof, leaveProof } from '../live/send.ts';
import { mountLiveTheme } from '../live/theme.ts';

/** While the board listens its answer comes after some seconds. */
const LOOK_MS = 700;

const port = new URLSearchParams(location.search).get('port');
/** The proof that this page shows, as it was drawn last. */
let drawn = '';

const isUnderWay = ({ state }: ProofView) => state === 'opening' || state === 'asking' || state === 'listening';

/** Why something was not done stays until the next deed; that nobody answers, until somebody does. */
let isAway = false;

async function attempt(work: () => Promise<ProofNow>, isDeed = true): Promise<void> {
  const trouble = byId('trouble');
  try {
    show(await work());
    if (isDeed || isAway) trouble.hidden = true;
    isAway = false;
  } catch (error) {
    trouble.textContent = wordsOf(error);
    trouble.hidden = false;
    isAway = !isDeed;
  }
}

function show(now: ProofNow): void {
  const told = JSON.stringify(now);
  if (told === drawn) return;
  drawn = told;
  const { proof } = now;
  const mine = proof !== null && (isUnderWay(proof) || proof.port === port) ? proof : null;
  byId('prove').replaceChildren(...(mine === null ? [beginning(now.takes)] : [sentenceOf(mine), answersOf(mine, now)]));
  byId('prove').querySelector<HTMLElement>('[data-first]')?.focus();
}

function beginning(takes: string): HTMLElement {
  if (port === null)
    return html('p', {}, [
      'Choose the board first: ',
      html('a', { href: './live.html' }, ['look for boards on the live page']),
      '.',
    ]);
  const by = html('input', { type: 'text', maxlength: '27', autocomplete: 'name' });
  const chip = html('select', {}, [
    html('option', { value: 'ina228' }, ['INA228']),
    html('option', { value: 'ina226' }, ['INA226']),
  ]);
  const form = html('form', { class: 'form' }, [
    html('p', {}, [`The board at ${port}, off the car. ${takes}`]),
    html('label', { class: 'field' }, [html('span', {}, ['Who proves it']), by]),
    html('label', { class: 'field' }, [html('span', {}, ['Chip that was meant']), chip]),
    html('button', { type: 'submit', 'data-first': true }, ['Begin']),
  ]);
  form.addEventListener('submit', (event) => {
    event.preventDefault();
    const name = by.value.trim();
    void attempt(() =>
      beginProof({ port, chip: chip.value === 'ina226' ? 'ina226' : 'ina228', ...(name === '' ? {} : { by: name }) }),
    );
  });
  return form;
}

const HEADS: Partial<Record<ProofView['state'], string>> = {
  sound: 'Sound',
  'not-sound': 'Not sound',
  failed: 'It could not be proved',
  left: 'Ended',
};

function sentenceOf({ state, sentence, remedy, cautions }: ProofView): HTMLElement {
  const head = HEADS[state];
  return html('div', { class: 'stage', 'data-state': state, role: 'status' }, [
    ...(head === undefined ? [] : [html('p', { class: 'outcome' }, [head])]),
    html('p', { class: 'sentence' }, [sentence]),
    ...(remedy === null ? [] : [html('p', { class: 'remedy' }, [remedy])]),
    ...(cautions.length === 0 ? [] : [cautionList(cautions)]),
  ]);
}

function answersOf(proof: ProofView, now: ProofNow): HTMLElement {
  const { asked, state, answer } = proof;
  const give = (value: ProofAnswer['value']) => void attempt(() => answerProof({ asked, value }));
  if (!isUnderWay(proof))
    return html('div', { class: 'row' }, [
      html(
        'button',
        { type: 'button', 'data-first': true, click: () => byId('prove').replaceChildren(beginning(now.takes)) },
        ['Prove it again'],
      ),
      html('a', { class: 'page-link', href: './live.html' }, ['To the boards']),
    ]);
  const end = html('button', { type: 'button', class: 'quiet', click: () => void attempt(leaveProof) }, ['End it']);
  if (state !== 'asking') return html('div', { class: 'row' }, [end]);
  if (answer === null)
    return html('div', { class: 'row' }, [
      html('button', { type: 'button', 'data-first': true, click: () => give(null) }, ['Done']),
      end,
    ]);
  if (answer.unit === 'yes or no')
    return html('div', { class: 'row' }, [
      html('button', { type: 'button', 'data-first': true, click: () => give(1) }, ['Yes']),
      html('button', { type: 'button', click: () => give(0) }, ['No']),
      end,
    ]);
  return numberForm(answer.unit, give, end);
}

function numberForm(unit: string, give: (value: number) => void, end: HTMLElement): HTMLElement {
  const input = html('input', { type: 'text', inputmode: 'decimal', autocomplete: 'off', 'data-first': true });
  const words = html('p', { class: 'refused', role: 'alert', hidden: true }, ['That is no number.']);
  const form = html('form', { class: 'form' }, [
    html('label', { class: 'field' }, [html('span', {}, [`The meter shows, in ${unit}`]), input]),
    words,
    html('div', { class: 'row' }, [html('button', { type: 'submit' }, ['Next']), end]),
  ]);
  form.addEventListener('submit', (event) => {
    event.preventDefault();
    const text = input.value.trim().replace(',', '.').replace('\u2212', '-');
    const value = text === '' ? NaN : Number(text);
    words.hidden = !Number.isNaN(value);
    if (!Number.isNaN(value)) give(value);
  });
  return form;
}

mountLiveTheme(byId('theme'), () => undefined);
void attempt(askProof, false);
setInterval(() => void (document.hidden || attempt(askProof, false)), LOOK_MS);
