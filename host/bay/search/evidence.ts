// Evidence from elsewhere: what was seen or read beside the current. It shifts the
// order in which circuits are looked at, by odds that are shown; it never decides.

import type { EvidenceKind } from '../../contract/api-bay.ts';

/** Kinds with their usual odds (common practice, no source); a technician may state others. */
export const EVIDENCE_KINDS: Record<EvidenceKind, { odds: number; text: string }> = {
  'fault code': { odds: 4, text: 'a fault code is stored against it' },
  'switch state': { odds: 5, text: 'a switch reads as it should not, such as a door that reads open' },
  'shared bus': { odds: 2, text: 'it shares a bus with a module that is suspected' },
  'night family': { odds: 3, text: 'the night shows wake-ups as it makes them' },
  'function test': { odds: 0.5, text: 'its function was tested and passed' },
  other: { odds: 2, text: 'something else that was noticed' },
};

export interface Evidence {
  /** Node of the tree that it speaks of. */
  node: number;
  kind: EvidenceKind;
  /** Above 1 speaks for it, below 1 against it. */
  odds: number;
  text: string;
  /** Who or what says so. */
  source: string;
  /** Wall clock, milliseconds since 1970 UTC; null where not known. */
  at_ms: number | null;
}

/** One piece of evidence never moves the odds by more than this. */
export const ODDS_MAX = 10;
/** Nor does all of it together by more than this. */
const ALL_ODDS_MAX = 30;

/** @throws RangeError where the odds are no odds or beyond what evidence may say */
export function checkedOdds(odds: number): number {
  if (!(odds >= 1 / ODDS_MAX && odds <= ODDS_MAX))
    throw new RangeError(`odds of ${odds} are beyond what evidence may say: 0.1 to ${ODDS_MAX}`);
  return odds;
}

/** The odds that all evidence on a stretch of parts comes to, held within 1/30 to 30. */
export function oddsOf(evidence: readonly Evidence[], concerns: (node: number) => boolean): number {
  const product = evidence.reduce((odds, piece) => (concerns(piece.node) ? odds * piece.odds : odds), 1);
  return Math.min(ALL_ODDS_MAX, Math.max(1 / ALL_ODDS_MAX, product));
}

/** `4 : 1 for`, `1 : 2 against`. */
export function oddsInWords(odds: number): string {
  return odds >= 1 ? `${round(odds)} : 1 for it` : `${round(1 / odds)} : 1 against it`;
}

const round = (value: number) => String(Math.round(value * 10) / 10);
