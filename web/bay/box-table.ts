// A whole box of voltages as one table: the fuses of a box in the order of the list, a field
// in mV each, on to the next with Enter, sent at once. The server looks them over; what it
// complains of stands beside its field, and nothing that was typed is lost.

import type { BayAction, BayView, FeedTreeAnswer } from '../../host/contract/api.ts';
import { counted } from '../../host/say/quantities.ts';
import { AskError, wordsOf } from '../ask.ts';
import { html } from '../dom.ts';

interface Row {
  name: string;
  element: HTMLElement;
  field: HTMLInputElement;
  complaint: HTMLElement;
}

export class BoxTable {
  readonly element: HTMLElement;
  private readonly box = html('select', { id: 'drops-box', change: () => this.draw() });
  private readonly body = html('tbody');
  private readonly said = html('p', { class: 'said', role: 'status' });
  private readonly boxRow: HTMLElement;
  private rows: Row[] = [];
  private tree: FeedTreeAnswer | null = null;
  /** As last shown; null before the first. */
  private marks: string | null = null;
  private care: { alone: readonly number[]; restricted: readonly number[] } = { alone: [], restricted: [] };
  private sending = false;

  /** @param send rejects with an Error in words; an AskError says which readings are wrong */
  constructor(private readonly send: (action: BayAction) => Promise<unknown>) {
    this.boxRow = html('div', { class: 'field' }, [html('label', { for: 'drops-box' }, ['Box']), this.box]);
    const head = ['Fuse', 'mV'].map((name) => html('th', { scope: 'col' }, [name]));
    this.element = html('form', { class: 'form box-form', 'data-form': 'drops' }, [
      html('p', { class: 'more' }, [
        'Enter goes on to the next fuse. What is left empty was not read; all others are noted at once, and taken back at once.',
      ]),
      this.boxRow,
      html('table', { class: 'box-table' }, [html('thead', {}, [html('tr', {}, head)]), this.body]),
      html('button', { type: 'submit' }, ['Note them all']),
      this.said,
    ]);
    this.element.addEventListener('submit', (event) => {
      event.preventDefault();
      void this.note();
    });
    this.element.addEventListener('keydown', (event) => this.onward(event));
  }

  setTree(tree: FeedTreeAnswer): void {
    this.tree = tree;
    const boxes = [...new Set(tree.nodes.filter(({ readable }) => readable).map(({ box }) => box))];
    this.boxRow.hidden = boxes.length < 2;
    this.box.replaceChildren(
      ...boxes.map((box) => html('option', { value: box }, [box === '' ? 'without a name' : box])),
    );
    this.draw();
  }

  /** What may not be touched is known by the view. */
  update({ feed: { alone, restricted } }: BayView): void {
    const marks = JSON.stringify([alone, restricted]);
    if (marks === this.marks) return;
    this.marks = marks;
    for (const { name, element } of this.rows) this.showCare(name, element, { alone, restricted });
    this.care = { alone, restricted };
  }

  private draw(): void {
    const fuses = this.tree!.nodes.filter(({ readable, box }) => readable && box === this.box.value);
    this.rows = fuses.map(({ name, rating_A }, i) => {
      const id = `drops-${i}`;
      const field = html('input', {
        ...{ id, type: 'text', inputmode: 'decimal', autocomplete: 'off', maxlength: '20' },
        'aria-describedby': `${id}-care ${id}-wrong`,
      });
      const complaint = html('p', { class: 'wrong', id: `${id}-wrong` });
      const element = html('tr', {}, [
        html('th', { scope: 'row' }, [
          html('label', { for: id }, [name, html('span', { class: 'more' }, [` ${rating_A} A`])]),
          html('span', { class: 'care', id: `${id}-care` }),
        ]),
        html('td', {}, [field, complaint]),
      ]);
      this.showCare(name, element, this.care);
      return { name, element, field, complaint };
    });
    this.body.replaceChildren(...this.rows.map(({ element }) => element));
    this.said.textContent = '';
  }

  private showCare(name: string, row: HTMLElement, { alone, restricted }: BoxTable['care']): void {
    const id = this.tree!.nodes.findIndex((node) => node.name === name);
    row.querySelector('.care')!.textContent = alone.includes(id)
      ? 'to be left alone'
      : restricted.includes(id)
        ? "only if the maker's procedure allows it"
        : '';
  }

  /** The last field goes on to the button, which takes the next Enter. */
  private onward(event: KeyboardEvent): void {
    const at = this.rows.findIndex(({ field }) => field === event.target);
    if (event.key !== 'Enter' || at < 0) return;
    event.preventDefault();
    const next = this.rows[at + 1]?.field ?? this.element.querySelector<HTMLElement>('button')!;
    next.focus();
  }

  private async note(): Promise<void> {
    if (this.sending) return;
    const written = this.rows.filter(({ field }) => field.value.trim() !== '');
    for (const { field, complaint } of this.rows) {
      complaint.textContent = '';
      field.removeAttribute('aria-invalid');
    }
    if (written.length === 0) return this.tell('No voltage is written in the table.', false);
    this.sending = true;
    this.element.setAttribute('aria-busy', 'true');
    try {
      await this.send({ do: 'drops', readings: written.map(({ name, field }) => ({ name, written: field.value })) });
      for (const { field } of written) field.value = '';
      this.tell(`Noted: ${counted(written.length, 'voltage')}.`, true);
    } catch (error) {
      this.tell(wordsOf(error), false);
      const complaints = error instanceof AskError ? error.complaints : [];
      for (const { at, text } of complaints) {
        written[at]!.complaint.textContent = text;
        written[at]!.field.setAttribute('aria-invalid', 'true');
      }
      written[complaints[0]?.at ?? -1]?.field.focus();
    }
    this.sending = false;
    this.element.removeAttribute('aria-busy');
  }

  private tell(text: string, good: boolean): void {
    this.said.textContent = text;
    this.said.classList.toggle('refused', !good);
  }
}
