// A choice of one of the other captures, kept while the list of them grows.

import type { CaptureSummary } from '../host/contract/api.ts';
import { html } from './dom.ts';
import { titleOf } from './shelf.ts';

/** Those that a night may be compared with. */
export const nightsAmong = (captures: readonly CaptureSummary[]): CaptureSummary[] =>
  captures.filter((capture) => capture.state !== 'ready' || !capture.work);

/** @param none what stands for no capture at all */
export function fillChoice(
  choice: HTMLSelectElement,
  captures: readonly CaptureSummary[],
  open: string | null,
  none: string,
): void {
  const chosen = choice.value;
  const names = captures
    .filter((capture) => capture.state === 'ready' && capture.name !== open)
    .map((capture) => capture.name);
  choice.replaceChildren(
    html('option', { value: '' }, [none]),
    ...names.map((name) => html('option', { value: name }, [titleOf(name)])),
  );
  choice.value = names.includes(chosen) ? chosen : '';
}
