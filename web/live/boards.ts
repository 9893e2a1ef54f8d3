// Looking for boards, and beginning a recording with one that was found; going on with
// a capture that was left unfinished.

import { time } from '../../host/say/quantities.ts';
import type { Board, BoardList, RecordOrder, Unfinished } from '../../host/contract/api.ts';
import { html } from '../dom.ts';
import { wordsOf } from '../ask.ts';
import { titleOf } from '../shelf.ts';
import { beginRecording, searchBoards } from './send.ts';

/** As long as the server takes them (api.ts). */
const FIELDS: [key: 'job' | 'plate' | 'vehicle' | 'customer', label: string, most: string][] = [
  ['job', 'Job or complaint', '500'],
  ['plate', 'Number plate', '40'],
  ['vehicle', 'Vehicle', '120'],
  ['customer', 'Customer', '200'],
];
const LENGTHS: [for_h: number | null, label: string][] = [
  [null, 'until it is ended'],
  [1, '1 hour'],
  [8, '8 hours'],
  [10, '10 hours'],
  [12, '12 hours'],
  [24, '24 hours'],
];

const proveLink = ({ port }: Board, words: string) =>
  html('p', {}, [html('a', { class: 'page-link', href: `./prove.html?port=${encodeURIComponent(port)}` }, [words])]);

export class BoardsView {
  private readonly search: HTMLButtonElement;
  private readonly words = html('p', { class: 'search-words', role: 'status' });
  private readonly trouble = html('p', { class: 'trouble', role: 'alert', hidden: true });
  private readonly list = html('ul', { class: 'found' });
  private readonly left = html('ul', { class: 'found unfinished' });
  /** What is typed into a form stays when the list comes again. */
  private readonly known = new Map<string, { told: string; item: HTMLElement }>();

  constructor(place: HTMLElement) {
    this.search = html('button', { type: 'button', class: 'search', click: () => void this.look() }, [
      'Look for boards',
    ]);
    place.append(html('div', { class: 'row' }, [this.search, this.words]), this.trouble, this.list, this.left);
  }

  async look(): Promise<void> {
    await this.attempt(async () => this.show(await searchBoards()));
  }

  show({ boards, searching, searched_ms, trouble }: BoardList): void {
    this.search.disabled = searching;
    this.words.textContent = searching
      ? 'Looking: each port is asked, which takes some seconds.'
      : trouble !== null
        ? `${trouble}`
        : searched_ms === null
          ? 'Nobody has looked for boards yet.'
          : boards.length === 0
            ? 'No serial port was found. Plug the board into a USB port of the computer, then look again.'
            : `Looked at ${new Date(searched_ms).toLocaleTimeString('en-GB')}.`;
    const ports = new Set(boards.map(({ port }) => port));
    for (const port of [...this.known.keys()]) if (!ports.has(port)) this.known.delete(port);
    const items = boards.map((board) => {
      const told = JSON.stringify(board);
      const known = this.known.get(board.port);
      if (known?.told === told) return known.item;
      const item = this.drawBoard(board);
      this.known.set(board.port, { told, item });
      return item;
    });
    if (items.length !== this.list.children.length || items.some((item, i) => this.list.children[i] !== item))
      this.list.replaceChildren(...items);
  }

  showUnfinished(unfinished: readonly Unfinished[]): void {
    this.left.replaceChildren(
      ...unfinished.map(({ name, job, recorded_s }) =>
        html('li', {}, [
          html('p', {}, [html('strong', {}, [titleOf(name)]), job === '' ? '' : ` ${job}`]),
          html('p', { class: 'more' }, [
            `It was left unfinished after ${time(recorded_s)}; all that was on the disk is kept.`,
          ]),
          html('button', { type: 'button', click: () => void this.attempt(() => beginRecording({ resume: name })) }, [
            'Go on recording it',
          ]),
        ]),
      ),
    );
  }

  private async attempt(work: () => Promise<unknown>): Promise<void> {
    this.trouble.hidden = true;
    try {
      await work();
    } catch (error) {
      this.trouble.hidden = false;
      this.trouble.textContent = wordsOf(error);
    }
  }

  private drawBoard(board: Board): HTMLElement {
    const head = html('p', {}, [
      html('strong', {}, [board.number === null ? 'No board answers' : `Board ${board.number}`]),
      html('span', { class: 'port' }, [` at ${board.port}${board.about === null ? '' : `, ${board.about}`}`]),
    ]);
    if (board.recording !== null)
      return html('li', {}, [head, html('p', { class: 'more' }, ['It is being recorded.'])]);
    if (board.number === null || board.trouble !== null)
      return html('li', {}, [
        head,
        html('p', { class: 'more' }, [board.trouble ?? 'What is there did not speak as a board does.']),
        proveLink(board, 'A new board that says nothing? Prove it'),
      ]);
    return html('li', {}, [
      head,
      ...(board.checked === null ? [] : [html('p', { class: 'more' }, [`It was ${board.checked}.`])]),
      this.startForm(board),
      proveLink(board, board.checked === null ? 'A new board? Prove it before its first night' : 'Prove it again'),
    ]);
  }

  private startForm(board: Board): HTMLElement {
    const inputs = FIELDS.map(([key, label, most]) => ({
      key,
      input: html('input', { type: 'text', maxlength: most, autocomplete: 'off' }),
      label,
    }));
    const length = html(
      'select',
      {},
      LENGTHS.map(([for_h, label]) => html('option', { value: for_h === null ? '' : String(for_h * 3600) }, [label])),
    );
    const start = html('button', { type: 'submit', class: 'start' }, ['Start recording']);
    const field = ({ label, input }: (typeof inputs)[number]) =>
      html('label', { class: 'field' }, [html('span', {}, [label]), input]);
    const form = html('form', {}, [
      field(inputs[0]!),
      html('label', { class: 'field' }, [html('span', {}, ['Record']), length]),
      html('details', {}, [
        html('summary', {}, ['Car and customer']),
        html('p', { class: 'more' }, ['Kept in the capture alone. Not needed.']),
        ...inputs.slice(1).map(field),
      ]),
      start,
    ]);
    form.addEventListener('submit', (event) => {
      event.preventDefault();
      start.disabled = true;
      const texts: Partial<Record<(typeof inputs)[number]['key'], string>> = {};
      for (const { key, input } of inputs) if (input.value.trim() !== '') texts[key] = input.value.trim();
      const order: RecordOrder = {
        port: board.port,
        ...texts,
        ...(length.value === '' ? {} : { for_s: Number(length.value) }),
      };
      void this.attempt(() => beginRecording(order)).finally(() => (start.disabled = false));
    });
    return form;
  }
}
