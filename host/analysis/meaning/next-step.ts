// The one next step: what a technician should do first, by the verdict and its warnings.

import { maxIndex } from 'd3-array';
import { CAUTIONS } from '../../say/cautions.ts';
import { timeWords } from '../../say/times.ts';
import type { Findings } from '../../contract/findings.ts';
import type { ComplaintTold, Explanation, Warning } from '../../contract/meaning.ts';

/** Measures that leave the circuits undisturbed come first. */
const PULLING = `${CAUTIONS.dropsFirst.text} Then pull one after another. ${CAUTIONS.bridgeAgain.text}`;
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
      return lookFor(findings);
    case 'wakes':
      return costliest?.try ?? lookFor(findings);
    default:
      return complaint?.next ?? WITHIN;
  }
}

/** What to look for where a level is over the allowance: from the first on, or one that came later. */
function lookFor({ asleep, allowance_mA, levels, trace }: Findings): string {
  const later = levels.filter(({ start_s, level_mA }) => start_s > (asleep?.after_s ?? 0) && level_mA > allowance_mA);
  const highest = later[maxIndex(later, ({ level_mA }) => level_mA)];
  if (asleep === null || asleep.level_mA > allowance_mA || highest === undefined)
    return `Something draws all the time: look for the circuit. ${PULLING}`;
  const at = timeWords(trace.start === null ? null : Date.parse(trace.start)).minutes(highest.start_s);
  return `Something came on at ${at}: look for the circuit while it is on. ${PULLING}`;
}

/** Charge of all members of an explanation, mA s. */
function cost({ count, shape }: Explanation): number {
  return shape === null ? 0 : count * shape.length_s * shape.height_mA;
}
