// The one next step: what a technician should do first, by the verdict and its warnings.

import { CAUTIONS } from '../../say/cautions.ts';
import type { Findings } from '../../contract/findings.ts';
import type { ComplaintTold, Explanation, Warning } from '../../contract/meaning.ts';

/** Measures that leave the circuits undisturbed come first. */
const OVER = `Something draws all the time: look for the circuit. ${CAUTIONS.dropsFirst.text} Then pull one after another. ${CAUTIONS.bridgeAgain.text}`;
const WITHIN =
  'The draw is in order. If the car still goes dead, charge and test the battery and check the charging system.';

/**
 * What to do first, in one or a few sentences: what a grave warning asks for, else by the verdict.
 * O(warnings + explanations).
 */
export function nextStepOf(
  findings: Findings,
  warnings: readonly Warning[],
  explanations: readonly Explanation[],
  complaint: ComplaintTold | null,
): string {
  const first =
    warnings.find((w) => w.grave) ??
    warnings.find((w) => ['too-short', 'stays-awake', 'switch-suspect', 'disturbed'].includes(w.code));
  if (first !== undefined) return first.next;
  const costliest = explanations
    .filter((e) => e.about !== 'step')
    .reduce<Explanation | null>((best, e) => (best === null || cost(e) > cost(best) ? e : best), null);
  switch (findings.verdict.code) {
    case 'over':
      return OVER;
    case 'wakes':
      return costliest?.try ?? OVER;
    default:
      return complaint?.next ?? WITHIN;
  }
}

/** Charge of all members of an explanation, mA s. */
function cost({ count, shape }: Explanation): number {
  return shape === null ? 0 : count * shape.length_s * shape.height_mA;
}
