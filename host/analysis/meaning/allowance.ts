// The allowance: the largest mean draw accepted while parked, and where the figure comes from.

import type { AllowanceTold } from '../../contract/meaning.ts';
import { USUAL_MA } from '../../contract/settings.ts';

/** Allowed mA = reserve minutes / 4: a carmaker's service manual of 2001, "Parasitic load test". */
const RESERVE_MIN_PER_MA = 4;

/** What was chosen as the allowance. */
export interface AllowanceChoice {
  /** A current, or `reserve` for one from the battery's reserve capacity; null for the usual one. */
  allow_mA: number | 'reserve' | null;
  /** The document that states the figure; null where none is named. */
  source: string | null;
  /** Time within which the car is expected to be asleep. */
  settle_min: number;
}

/**
 * The draw allowed for a battery, mA, from its reserve capacity in minutes at 25 A: RC 100 allows 25 mA.
 * Source: a carmaker's service manual of 2001, "Parasitic load test".
 */
export function allowanceFromReserve_mA(reserve_min: number): number {
  return reserve_min / RESERVE_MIN_PER_MA;
}

/**
 * The allowance with its basis and source.
 *
 * @param reserve_min the battery's reserve capacity in minutes; null where it is not known
 * @throws RangeError in one sentence where `reserve` is chosen without a reserve capacity, or a source
 * without a figure
 */
export function allowanceOf(choice: AllowanceChoice, reserve_min: number | null): Omit<AllowanceTold, 'settled_min'> {
  const { allow_mA, source, settle_min } = choice;
  if (allow_mA === 'reserve') {
    if (reserve_min === null)
      throw new RangeError(
        "the allowance 'reserve' needs the battery's reserve capacity in minutes; it stands on the label as RC",
      );
    return {
      mA: allowanceFromReserve_mA(reserve_min),
      basis: 'reserve',
      source: `reserve capacity ${reserve_min} min / ${RESERVE_MIN_PER_MA}`,
      settle_min,
    };
  }
  if (source !== null && source.trim() !== '') {
    if (allow_mA === null)
      throw new RangeError(`the allowance's source '${source}' stands alone; give the figure with it`);
    return { mA: allow_mA, basis: 'maker', source: source.trim(), settle_min };
  }
  if (allow_mA === null)
    return { mA: USUAL_MA, basis: 'usual', source: 'common practice; the car maker may say otherwise', settle_min };
  return { mA: allow_mA, basis: 'given', source: 'given, no document named', settle_min };
}
