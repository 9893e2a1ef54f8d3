// What the analysis says of many nights of one kind, added up by the scorer of that kind.

import { analyse } from '../../../host/analysis/night/analyse.ts';
import type { Trace } from '../../../host/contract/capture.ts';
import type { Findings } from '../../../host/contract/findings.ts';
import { DEFAULT_OPTIONS } from '../../../host/contract/settings.ts';

/** What was found, what was missed, and what was told that is none. */
export type Score = Record<'hit' | 'missed' | 'extra', number>;

/** @returns found, missed and made up in all nights, and in words the nights that were not all right */
export function tallyOf<N extends { said: string; trace: Trace }>(
  nights: Iterable<N>,
  scoreOf: (night: N, found: Findings) => Score,
): { sums: [hit: number, missed: number, extra: number]; said: string } {
  const sums: [number, number, number] = [0, 0, 0];
  const said: string[] = [];
  for (const night of nights) {
    const score = scoreOf(night, analyse(night.trace, DEFAULT_OPTIONS));
    sums[0] += score.hit;
    sums[1] += score.missed;
    sums[2] += score.extra;
    if (score.missed + score.extra > 0) said.push(`${night.said}: ${JSON.stringify(score)}`);
  }
  return { sums, said: said.join('\n') };
}
