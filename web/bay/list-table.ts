// The fuse list typed in on the page: a row for each fuse or relay, looked over by the server
// as a file is, with what is wrong beside its row. Kept in this tab while it is typed.

import type { TreeAnswer } from '../../host/contract/api.ts';
import { counted } from '../../host/say/quantities.ts';
import { html } from '../dom.ts';
import { EMPTY_ROW, listText, rowsOfText, TYPES } from './list-text.ts';
import type { ListRow } from './list-text.ts';

/** Of the tab alone: another day and another customer begin with none. */
const KEPT = 'nightdraw fuse list';
/** After the last field was left; the server is asked no more often. */
const LOOK_AFTER_MS = 400;

interface Row {
  element: HTMLElement;
  head: HTMLElement;
  wrong: HTMLElement;
  /** What was typed. */
  now: () => ListRow;
}

export class ListTable {
  readonly element: HTMLElement;
  private readonly list = html('div', { class: 'list-rows' });
  private readonly said = html('div', { class: 'looked', role: 'status' });
  private rows: Row[] = [];
  /** What the server complained of, by row; -1: of the list as a whole. */
  private wrong = new Map<number, string[]>();
  private waiting: ReturnType<typeof setTimeout> | undefined;
  private made = 0;

  /** @param lookOver rejects with an Error in words where the computer does not answer */
  constructor(private readonly lookOver: (text: string) => Promise<TreeAnswer>) {
    const button = (text: string, click: () => void) => html('button', { type: 'button', click }, [text]);
    this.element = html('div', { class: 'list-table' }, [
      html('p', { class: 'more' }, [
        'A row for each fuse or relay. What it feeds is a part, or another fuse by its position; commas between several. Enter goes on to the next field. Kept in this tab until the work begins.',
      ]),
      this.list,
      html('div', { class: 'row' }, [
        button('Add a row', () => this.add().focus()),
        button('Keep as a CSV file', () => this.download()),
      ]),
      this.said,
    ]);
    this.list.addEventListener('input', () => this.keep());
    this.list.addEventListener('change', () => this.lookLater());
    // What is wrong with a row is told once it is left.
    for (const moved of ['focusin', 'focusout']) this.list.addEventListener(moved, () => this.showWrong());
    this.list.addEventListener('keydown', (event) => this.onward(event));
    for (const row of rowsOfText(kept())) this.add(row);
    if (this.rows.length > 0) this.lookLater();
    else this.add();
  }

  /** Whether there is anything from before in it. */
  get begun(): boolean {
    return listText(this.typed()).rowOfLine.size > 0;
  }

  /** The list as CSV, without mistakes. @throws Error in words where there are any, or nobody looks it over */
  async text(): Promise<string> {
    const { text, rowOfLine } = listText(this.typed());
    if (rowOfLine.size === 0) throw new Error('There is no fuse in the list yet.');
    if (!(await this.look())) throw new Error('The fuse list has mistakes; they stand beside its rows.');
    return text;
  }

  /** The work has begun: nothing of it stays here. */
  clear(): void {
    clearTimeout(this.waiting);
    keepText(null);
    this.rows = [];
    this.wrong.clear();
    this.list.replaceChildren();
    this.said.replaceChildren();
    this.add();
  }

  private typed = (): ListRow[] => this.rows.map(({ now }) => now());

  private keep(): void {
    keepText(JSON.stringify(this.typed()));
  }

  /** @returns its first field */
  private add(given: ListRow = { ...EMPTY_ROW, box: this.rows.at(-1)?.now().box ?? '' }): HTMLElement {
    const id = `row${this.made++}`;
    const field = (key: 'box' | 'position' | 'rating' | 'feeds', label: string, numeric = false) => {
      const input = html('input', {
        ...{
          id: `${id}-${key}`,
          type: 'text',
          value: given[key],
          autocomplete: 'off',
          'aria-describedby': `${id}-wrong`,
        },
        ...{ maxlength: key === 'feeds' ? '1000' : '60', ...(numeric && { inputmode: 'decimal' }) },
      });
      return {
        input,
        element: html('div', { class: `field ${key}` }, [html('label', { for: input.id }, [label]), input]),
      };
    };
    const [box, position] = [field('box', 'Box'), field('position', 'Position')];
    const [rating, feeds] = [field('rating', 'Rating, A', true), field('feeds', 'Feeds')];
    const type = html(
      'select',
      { id: `${id}-type` },
      TYPES.map((value) => html('option', { value, selected: value === given.type }, [value])),
    );
    const alone = html('input', { type: 'checkbox', id: `${id}-alone`, checked: given.alone });
    const head = html('span', { class: 'list-number', id: `${id}-head` });
    const wrong = html('ul', { class: 'wrong', id: `${id}-wrong` });
    const element = html('div', { role: 'group', 'aria-labelledby': head.id }, [
      head,
      ...[box.element, position.element, rating.element],
      html('div', { class: 'field type' }, [html('label', { for: type.id }, ['Type']), type]),
      feeds.element,
      html('div', { class: 'quick' }, [alone, html('label', { for: alone.id }, ['Leave alone'])]),
      html('button', { type: 'button', class: 'remove', click: () => this.remove(row) }, ['Remove']),
      wrong,
    ]);
    const now = () => ({
      ...{ box: box.input.value, position: position.input.value, rating: rating.input.value, feeds: feeds.input.value },
      ...{ type: TYPES.find((one) => one === type.value)!, alone: alone.checked },
    });
    const row = { element, head, wrong, now };
    this.rows.push(row);
    this.list.append(element);
    this.number();
    return (given.box === '' ? box : position).input;
  }

  private remove(row: Row): void {
    const at = this.rows.indexOf(row);
    this.rows.splice(at, 1);
    row.element.remove();
    if (this.rows.length === 0) this.add();
    this.number();
    this.keep();
    // The keyboard goes on where it was.
    this.rows[Math.min(at, this.rows.length - 1)]!.element.querySelector('input')!.focus();
    this.lookLater();
  }

  private number(): void {
    this.rows.forEach(({ head }, i) => (head.textContent = `Row ${i + 1}`));
  }

  /** Enter goes on to the next field, and after the last one to a new row. */
  private onward(event: KeyboardEvent): void {
    const at = event.target as HTMLElement;
    if (event.key !== 'Enter' || !at.matches('input[type="text"], select')) return;
    event.preventDefault();
    const fields = [...this.list.querySelectorAll<HTMLElement>('input[type="text"], select')];
    (fields[fields.indexOf(at) + 1] ?? this.add()).focus();
  }

  private lookLater(): void {
    this.keep();
    clearTimeout(this.waiting);
    // Where the computer does not answer, beginning the work says so.
    this.waiting = setTimeout(() => void this.look().catch(() => undefined), LOOK_AFTER_MS);
  }

  /** @returns whether there is no mistake */
  private async look(): Promise<boolean> {
    clearTimeout(this.waiting);
    const { text, rowOfLine } = listText(this.typed());
    const { fuses, relays, parts, complaints, warnings } =
      rowOfLine.size === 0
        ? { fuses: 0, relays: 0, parts: 0, complaints: [], warnings: [] }
        : await this.lookOver(text);
    this.wrong = new Map();
    for (const { line, text: words } of [...complaints, ...warnings]) {
      const at = rowOfLine.get(line) ?? -1;
      this.wrong.set(at, [...(this.wrong.get(at) ?? []), byRows(words, rowOfLine)]);
    }
    const good = `${counted(fuses, 'fuse')}, ${counted(relays, 'relay')}, ${counted(parts, 'part')}; no mistake found`;
    const sum = complaints.length === 0 ? good : counted(complaints.length, 'mistake');
    this.said.replaceChildren(
      ...(rowOfLine.size === 0 ? [] : [sum, ...(this.wrong.get(-1) ?? [])].map((words) => html('p', {}, [words]))),
    );
    this.showWrong();
    return complaints.length === 0;
  }

  private showWrong(): void {
    this.rows.forEach(({ element, wrong }, i) => {
      const words = element.contains(document.activeElement) ? [] : (this.wrong.get(i) ?? []);
      if (wrong.textContent === words.join('')) return;
      wrong.replaceChildren(...words.map((text) => html('li', {}, [text])));
    });
  }

  private download(): void {
    const url = URL.createObjectURL(new Blob([listText(this.typed()).text], { type: 'text/csv' }));
    html('a', { href: url, download: 'feed-tree.csv' }).click();
    // Not before the browser has taken it.
    setTimeout(() => URL.revokeObjectURL(url), 10_000);
  }
}

/** A line of the text is a row here. */
const byRows = (words: string, rowOfLine: ReadonlyMap<number, number>): string =>
  words.replace(/\bline (\d+)/g, (told, line: string) => {
    const row = rowOfLine.get(Number(line));
    return row === undefined ? told : `row ${row + 1}`;
  });

/** A browser may refuse to keep anything: then the list is there as long as the page is. */
function keepText(text: string | null): void {
  try {
    if (text === null) sessionStorage.removeItem(KEPT);
    else sessionStorage.setItem(KEPT, text);
  } catch {
    // Nothing is lost that was there before.
  }
}

function kept(): string | null {
  try {
    return sessionStorage.getItem(KEPT);
  } catch {
    return null;
  }
}
