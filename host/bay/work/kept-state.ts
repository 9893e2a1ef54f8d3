// Work in the bay as the text that a capture keeps of it, and back.

import { NO_READINGS } from '../search/level.ts';
import { treeOf } from '../session/marked-tree.ts';
import type { LogEntry, SessionState } from '../session/session-state.ts';
import type { Seen } from './preparation.ts';
import type { PrepareState } from './preparing.ts';
import type { WorkState } from './work.ts';

/** The readings of the last minutes are not kept: they tell nothing after a stop. */
export const workText = ({ session, prepare, ...rest }: WorkState): string =>
  JSON.stringify({
    ...rest,
    session: { ...session, memory: undefined },
    prepare: { ...prepare, memory: undefined, held: undefined },
  });

/**
 * The work as it was kept; what reads it changes nothing of it.
 * @throws Error in one sentence where the text is no work of this version or the one before
 */
export function readWork(text: string): WorkState {
  let kept: Partial<WorkState | FirstWork> | null;
  try {
    kept = JSON.parse(text) as typeof kept;
  } catch (error) {
    throw new Error('what was kept of the work in the bay is not whole; start it anew', { cause: error });
  }
  if (kept?.session === undefined || kept.prepare === undefined || (kept.version !== 1 && kept.version !== 2))
    throw new Error('what was kept is no work in the bay of this version; start it anew');
  const work = kept.version === 1 ? fromFirst(kept as FirstWork) : (kept as WorkState);
  treeOf(work.session);
  return {
    ...work,
    session: { ...work.session, memory: NO_READINGS },
    prepare: { ...work.prepare, memory: NO_READINGS, held: null },
  };
}

/** Version 1 had what was said of the list in the session itself, and what was seen in the words of the log alone. */
interface FirstWork {
  version: 1;
  session: Omit<SessionState, 'list'> & SessionState['list'] & { level?: unknown };
  prepare: Omit<PrepareState, 'seen' | 'proved'>;
  closed?: string[];
}

function fromFirst({ session, prepare, closed = [] }: FirstWork): WorkState {
  const { treeText, alone = {}, cleared = [], restricted = [], log } = session;
  const seenIn = ({ text }: LogEntry) =>
    /Seen by the program: (yes|no|cannot tell)/.exec(text)?.[1] as Seen | undefined;
  const proof = log.findLast(({ code }) => code === 'proof');
  return {
    version: 2,
    session: { ...session, ...{ level: undefined }, list: { treeText, alone, cleared, restricted }, tap_s: null },
    prepare: {
      ...prepare,
      seen: log.flatMap((entry) => (entry.code === 'prepared' ? (seenIn(entry) ?? []) : [])),
      proved: proof === undefined ? null : { t_s: proof.t_s, sentence: proof.text },
    },
    closed,
  };
}
