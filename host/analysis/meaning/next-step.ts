// The one next step, by the verdict: what a technician does first.

import { CAUTIONS } from '../../say/cautions.ts';
import type { Findings } from '../../contract/findings.ts';
import type { ComplaintTold, Explanation, Warning } from '../../contract/meaning.ts';

/** What disturbs nothing comes first. */
const OVER = `Something draws all the time: look for the circuit. ${CAUTIONS.dropsFirst.text} Then pull one after another. ${CAUTIONS.bridgeAgain.text}`;
const WITHIN =
  'The draw is in order. If the car still goes dead, charge and test the battery and check the charging system.';

/** What to do first. */
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

function cost({ count, shape }: Explanation): number {
  return shape === null ? 0 : count * shape.length_s * shape.height_mA;
}
