// What a device in the bay does to the work beside a recording, with the server's answers.

import type { KeptWork } from '../../bay/work/kept-work.ts';
import { BayProblem, DropsProblem } from '../../bay/work/work.ts';
import type { BayAction, BayView } from '../../contract/api.ts';
import { RequestProblem } from '../problem.ts';

/**
 * Something done or read at the car; each deed is on the disk before this returns.
 * @param wall_ms milliseconds since 1970 UTC
 * @returns what is asked next; with nothing done where another sentence than the one that was answered is asked by now
 * @throws RequestProblem 409 with the words for who did it, where it makes no sense now
 */
export function actAtDesk(kept: KeptWork, action: BayAction, wall_ms: number): BayView {
  if (!kept.isOpen)
    throw new RequestProblem(
      409,
      'not-recording',
      'The board is not being recorded now, so nothing can be noted; go on with the recording first.',
    );
  if ('asked' in action && isGone(action, kept.view)) return kept.view;
  try {
    kept.act(action, wall_ms);
  } catch (error) {
    if (error instanceof DropsProblem)
      throw new RequestProblem(409, 'bad-readings', sentence(error.message), error.complaints);
    if (error instanceof BayProblem) throw new RequestProblem(409, 'not-now', sentence(error.message));
    throw error;
  }
  return kept.view;
}

/** Whether something else is asked by now, or the same once more since somebody answered. */
const isGone = ({ asked, answered }: { asked?: string | undefined; answered?: number | undefined }, view: BayView) =>
  (asked !== undefined && asked !== view.headline) || (answered !== undefined && answered !== view.answered);

/** A problem's words as a whole sentence. */
export const sentence = (text: string) => `${text[0]!.toUpperCase()}${text.slice(1)}${/[.?!]$/.test(text) ? '' : '.'}`;
