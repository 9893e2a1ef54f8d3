// The report as it will be, on the page: the server's own HTML report in a frame that may run
// nothing, as tall as it is, and printed from there.

import type { Problem } from '../host/contract/api.ts';
import { NOT_RUNNING } from './ask.ts';
import { html } from './dom.ts';

export class Preview {
  readonly element = html('div', { class: 'preview' });
  private shown: HTMLIFrameElement | null = null;
  private coming: HTMLIFrameElement | null = null;
  private address: string | null = null;

  /** @param tell told in words how it goes; an empty text: it is there */
  constructor(private readonly tell: (words: string, good: boolean) => void) {}

  /** Shows what is at this address; what was shown stays until then. */
  show(address: string): void {
    if (address === this.address) return;
    this.address = address;
    this.coming?.remove();
    this.tell('Making the preview.', true);
    const frame = html('iframe', {
      title: 'Preview of the report',
      sandbox: 'allow-same-origin allow-modals',
      src: address,
      class: 'coming',
      load: () => this.loaded(frame),
    });
    this.coming = frame;
    this.element.append(frame);
  }

  /** What is shown is of before: the next `show` makes it anew. */
  outdated(): void {
    this.address = null;
  }

  clear(): void {
    this.element.replaceChildren();
    this.shown = this.coming = this.address = null;
  }

  /** Whether there was something to print. */
  print(): boolean {
    if (this.shown === null || this.coming !== null) return false;
    this.shown.contentWindow?.print();
    return true;
  }

  private loaded(frame: HTMLIFrameElement): void {
    if (frame !== this.coming) return;
    this.coming = null;
    const page = frame.contentDocument;
    // A refusal comes as words in JSON; nothing of ours at all: nobody answers.
    if (page?.contentType !== 'text/html' || page.querySelector('main') === null) {
      frame.remove();
      this.tell(refusal(page?.body?.textContent ?? '') ?? NOT_RUNNING, false);
      return;
    }
    this.shown?.remove();
    this.shown = frame;
    frame.classList.remove('coming');
    frame.style.height = `${page.documentElement.scrollHeight}px`;
    this.tell('', true);
  }
}

function refusal(text: string): string | null {
  try {
    return (JSON.parse(text) as Problem).error.message;
  } catch {
    return null;
  }
}
