// Beginning the work: the feed tree from a file, the board that is clamped in, and what
// the car may draw; or going on with work that was left.

import { counted, time } from '../../host/say/quantities.ts';
import type { BayStart, BoardList, RecordOrder, Unfinished } from '../../host/contract/api.ts';
import { html } from '../dom.ts';
import { beginRecording, lookOver, searchBoards } from '../live/send.ts';
import { wordsOf } from '../ask.ts';
import { titleOf } from '../shelf.ts';
import { ListTable } from './list-table.ts';
import { csvText, whyNoCsv } from './tree-file.ts';

const METERS: [string, string][] = [
  ['0.1', '0.1 mV'],
  ['0.01', '0.01 mV'],
  ['1', '1 mV'],
  ['', 'no meter here'],
];

export class BeginView {
  private readonly file = html('input', {
    type: 'file',
    id: 'tree-file',
    accept: '.csv,.txt,text/csv,text/plain',
    change: () => void this.look(),
  });
  private readonly looked = html('div', { class: 'looked', role: 'status' });
  private readonly board = html('select', { id: 'tree-board' });
  private readonly search = html(
    'button',
    { type: 'button', click: () => void this.attempt(async () => this.show(await searchBoards())) },
    ['Look for boards'],
  );
  private readonly searchWords = html('p', { class: 'more', role: 'status' });
  private readonly allowance = html('input', {
    type: 'text',
    id: 'tree-allowance',
    inputmode: 'decimal',
    autocomplete: 'off',
    value: '50',
  });
  private readonly meter = html(
    'select',
    { id: 'tree-meter' },
    METERS.map(([value, text]) => html('option', { value }, [text])),
  );
  private readonly job = html('input', { type: 'text', id: 'tree-job', maxlength: '500', autocomplete: 'off' });
  private readonly start = html('button', { type: 'submit', class: 'start' }, ['Begin the work']);
  private readonly trouble = html('p', { class: 'trouble', role: 'alert', hidden: true });
  private readonly left = html('ul', { class: 'left' });
  private readonly typed = new ListTable(lookOver);
  private readonly fileChoice = this.choice('tree-from-file', 'Feed tree from a CSV file');
  private readonly typedChoice = this.choice('tree-typed', 'Typed in here');
  private readonly fileRow = html('div', { class: 'field' }, [
    html('label', { for: 'tree-file' }, ['Feed tree, a CSV file']),
    this.file,
    this.looked,
  ]);
  private tree: string | null = null;
  private boardsTold = '';

  /** @param begun told the name of the capture */
  constructor(
    place: HTMLElement,
    private readonly begun: (name: string) => void,
  ) {
    const row = (label: string, control: HTMLElement, ...more: HTMLElement[]) =>
      html('div', { class: 'field' }, [html('label', { for: control.id }, [label]), control, ...more]);
    const form = html('form', { class: 'begin-form' }, [
      html('div', { class: 'from', role: 'radiogroup', 'aria-label': 'Feed tree' }, [
        this.fileChoice.element,
        this.typedChoice.element,
      ]),
      this.fileRow,
      this.typed.element,
      row('Board', this.board, html('div', { class: 'row' }, [this.search, this.searchWords])),
      row('The car may draw, mA', this.allowance),
      row('Last digit of the meter that reads across fuses', this.meter),
      row('Job or complaint', this.job),
      this.trouble,
      this.start,
    ]);
    form.addEventListener('submit', (event) => {
      event.preventDefault();
      void this.begin();
    });
    place.append(this.left, form, howToWrite());
    (this.typed.begun ? this.typedChoice : this.fileChoice).input.checked = true;
    this.showFrom();
  }

  private choice(id: string, text: string): { element: HTMLElement; input: HTMLInputElement } {
    const input = html('input', { type: 'radio', id, name: 'tree-from', change: () => this.showFrom() });
    return { input, element: html('div', { class: 'quick' }, [input, html('label', { for: id }, [text])]) };
  }

  private showFrom(): void {
    this.fileRow.hidden = this.typedChoice.input.checked;
    this.typed.element.hidden = !this.typedChoice.input.checked;
  }

  /** @throws Error in words where there is none without mistakes */
  private async chosenTree(): Promise<string> {
    if (this.typedChoice.input.checked) return this.typed.text();
    if (this.tree === null) throw new Error('Choose the file of the feed tree first, one without mistakes.');
    return this.tree;
  }

  private async look(): Promise<void> {
    this.tree = null;
    this.looked.replaceChildren();
    const file = this.file.files?.[0];
    if (file === undefined) return;
    await this.attempt(async () => {
      const bytes = new Uint8Array(await file.arrayBuffer());
      const why = whyNoCsv(bytes);
      if (why !== null) return this.looked.replaceChildren(html('p', { class: 'trouble' }, [`${file.name} ${why}.`]));
      const text = csvText(bytes);
      const { fuses, relays, parts, complaints, warnings } = await lookOver(text);
      const lines = (what: string, list: typeof complaints) =>
        list.length === 0
          ? []
          : [
              html('p', { class: what }, [`${file.name}: ${counted(list.length, what)}`]),
              html(
                'ul',
                {},
                list.map(({ line, text: words }) => html('li', {}, [`line ${line}: ${words}`])),
              ),
            ];
      if (complaints.length === 0) this.tree = text;
      this.looked.replaceChildren(
        ...(complaints.length === 0
          ? [
              html('p', {}, [
                `${counted(fuses, 'fuse')}, ${counted(relays, 'relay')}, ${counted(parts, 'part')}; no mistake found`,
              ]),
            ]
          : []),
        ...lines('mistake', complaints),
        ...lines('warning', warnings),
      );
    });
  }

  show({ boards, searching, searched_ms, trouble }: BoardList): void {
    this.search.disabled = searching;
    this.searchWords.textContent = searching
      ? 'Looking: each port is asked, which takes some seconds.'
      : (trouble ?? (searched_ms === null ? 'Nobody has looked for boards yet.' : ''));
    const free = boards.filter(
      ({ number, trouble: why, recording }) => number !== null && why === null && recording === null,
    );
    const told = free.map(({ port }) => port).join('\n');
    if (told === this.boardsTold && this.board.options.length > 0) return;
    this.boardsTold = told;
    const before = this.board.value;
    this.board.replaceChildren(
      ...(free.length === 0
        ? [html('option', { value: '' }, [boards.length === 0 ? 'none found yet' : 'none is free'])]
        : free.map(({ number, port }) =>
            html('option', { value: port, selected: port === before }, [`Board ${number!} at ${port}`]),
          )),
    );
  }

  showUnfinished(unfinished: readonly Unfinished[]): void {
    this.left.replaceChildren(
      ...unfinished
        .filter(({ bay }) => bay)
        .map(({ name, job, recorded_s }) =>
          html('li', {}, [
            html('p', {}, [html('strong', {}, [titleOf(name)]), job === '' ? '' : ` ${job}`]),
            html('p', { class: 'more' }, [`Work was left there after ${time(recorded_s)}; every deed is kept.`]),
            html(
              'button',
              {
                type: 'button',
                class: 'start',
                click: () => void this.attempt(async () => this.begun((await beginRecording({ resume: name })).name)),
              },
              ['Go on with it'],
            ),
          ]),
        ),
    );
  }

  private async begin(): Promise<void> {
    this.start.disabled = true;
    await this.attempt(async () => {
      const tree = await this.chosenTree();
      if (this.board.value === '') throw new Error('No board is free: look for boards first.');
      const allowance_mA = Number(this.allowance.value.trim().replace(',', '.'));
      if (!(allowance_mA > 0)) throw new Error(`'${this.allowance.value}' is not a current in mA.`);
      const bay: BayStart = {
        tree,
        allowance_mA,
        meter_mV: this.meter.value === '' ? null : Number(this.meter.value),
      };
      const order: RecordOrder = {
        port: this.board.value,
        bay,
        ...(this.job.value.trim() === '' ? {} : { job: this.job.value.trim() }),
      };
      const { name } = await beginRecording(order);
      this.typed.clear();
      this.begun(name);
    });
    this.start.disabled = false;
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
}

function howToWrite(): HTMLElement {
  const rows = [
    ['battery', 'L2', '100', 'bolted', 'E1, E7'],
    ['engine bay', 'E7', '10', 'miniature', 'telematics box'],
    ['engine bay', 'E1', '30', 'large', 'cooling fan'],
  ];
  return html('details', { class: 'how' }, [
    html('summary', {}, ['How a feed tree is written']),
    html('p', {}, [
      'A spreadsheet saved as CSV, one row for each fuse or relay. What a fuse feeds is a part, or another fuse by its position.',
    ]),
    html('table', {}, [
      html('thead', {}, [
        html(
          'tr',
          {},
          ['box', 'position', 'rating', 'type', 'feeds'].map((name) => html('th', { scope: 'col' }, [name])),
        ),
      ]),
      html(
        'tbody',
        {},
        rows.map((row) =>
          html(
            'tr',
            {},
            row.map((cell) => html('td', {}, [cell])),
          ),
        ),
      ),
    ]),
    html('p', { class: 'more' }, [
      'Types: regular, miniature, micro, large, bolted, relay. Ratings in A. A column leave alone with yes in it keeps a fuse from being proposed; airbag, seat belt and high-voltage circuits never are.',
    ]),
  ]);
}
