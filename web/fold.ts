// A part of the page behind its own heading: closed until somebody wants it, and as the
// reader left it when another night is opened.

import { html } from './dom.ts';

export interface Fold {
  details: HTMLDetailsElement;
  heading: HTMLElement;
  /** Where what is shown stands. */
  body: HTMLElement;
}

/** @param level of the heading in the page's outline */
export function fold(place: HTMLElement, titleId: string, title: string, level: 'h2' | 'h3' = 'h2'): Fold {
  const heading = html(level, { id: titleId }, [title]);
  const body = html('div', { class: 'folded' });
  const details = html('details', { class: 'fold' }, [html('summary', {}, [heading]), body]);
  place.replaceChildren(details);
  return { details, heading, body };
}
