// Work in the bay as the text that a capture keeps of it, and back.

import { NO_READINGS } from '../search/level.ts';
import { treeOf } from '../session/session-state.ts';
import type { MarkedList, Session } from '../session/session-state.ts';
import type { Seen } from './preparation.ts';
import type { Work } from './work.ts';

/** The readings of the last minutes are not kept: they tell nothing after a stop. */
export const workText = ({ session, prepare, ...rest }: Work) =>
  JSON.stringify({
    ...rest,
    session: { ...session, memory: undefined },
    prepare: { ...prepare, memory: undefined, held: undefined },
  });

/**
 * The work as it was kept; what reads it changes nothing of it.
 * @throws Error in one sentence where the text is no work of this version or the one before
 */
export function readWork(text: string): Work {
  let kept: Partial<Work | FirstWork> | null;
  try {
    kept = JSON.parse(text) as typeof kept;
  } catch (error) {
    throw new Error('what was kept of the work in the bay is not whole; start it anew', { cause: error });
  }
  if (!kept?.session || !kept.prepare || (kept.version !== 1 && kept.version !== 2))
    throw new Error('what was kept is no work in the bay of this version; start it anew');
  const work = kept.version === 1 ? fromFirst(kept as FirstWork) : (kept as Work);
  treeOf(work.session);
  return {
    ...work,
    session: { ...work.session, memory: NO_READINGS },
    prepare: { ...work.prepare, memory: NO_READINGS, held: null },
  };
}

/** Version 1 had what was said of the list in the session itself, and what was seen in the words of the log alone. */
type FirstWork = Omit<Work, 'version' | 'session'> & { version: 1; session: Session & MarkedList };

function fromFirst({ session, prepare, closed = [] }: FirstWork): Work {
  const { treeText, alone = {}, cleared = [], restricted = [], log } = session;
  const proof = log.findLast(({ code }) => code === 'proof');
  const seen = log
    .filter(({ code }) => code === 'prepared')
    .flatMap(({ text }) => (/Seen by the program: (yes|no|cannot tell)/.exec(text)?.[1] ?? []) as Seen);
  return {
    version: 2,
    session: { ...session, ...{ level: undefined }, list: { treeText, alone, cleared, restricted }, tap_s: null },
    prepare: { ...prepare, seen, proved: proof === undefined ? null : { t_s: proof.t_s, sentence: proof.text } },
    closed,
  };
}
