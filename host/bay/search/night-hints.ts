// What a night's wake-ups suggest: families that keep the rhythm of a known kind of
// module speak for parts of that name. Rhythms from published service documents.

import type { Family, Findings } from '../../contract/findings.ts';
import { EVIDENCE_KINDS } from './evidence.ts';
import type { Evidence } from './evidence.ts';
import type { FeedTree } from '../tree/tree.ts';

interface Rhythm {
  fits(family: Family, findings: Findings): boolean;
  names: RegExp;
  text: string;
}

const between = (value: number | null, low: number, high: number) => value !== null && value >= low && value <= high;

const RHYTHMS: Rhythm[] = [
  {
    // 80 to 240 mA for about 45 s every 9 to 10 min: GM service manual 2001.
    fits: (family) => between(family.period_s, 480, 660) && between(family.duration_s, 25, 70),
    names: /telematic|phone|gps|position|tracker|emergency call/i,
    text: 'wake-ups of about 45 s every 9 to 10 min are the rhythm of a telematics unit',
  },
  {
    // Pump test some 5, 7 and 9.5 h after key-off: Lexus repair manual 2006. Seen once or twice a night.
    fits: (family, { wakeups }) =>
      family.count <= 3 &&
      wakeups.some((one) => one.family === family.id && between(one.start_s, 4.5 * 3600, 10 * 3600)) &&
      between(family.duration_s, 300, 1800),
    names: /vapou?r|evaporat|engine control|fuel pump/i,
    text: 'a long run some hours after key-off is how a fuel-vapour leak test goes (normal)',
  },
];

/** Evidence that a night gives, at stated odds. Empty where no family keeps a known rhythm. */
export function hintsFromNight(findings: Findings, tree: FeedTree, source: string): Evidence[] {
  const { odds } = EVIDENCE_KINDS['night family'];
  return findings.families.flatMap((family) =>
    RHYTHMS.filter((rhythm) => rhythm.fits(family, findings)).flatMap((rhythm) =>
      tree.parts
        .filter((id) => rhythm.names.test(tree.nodes[id]!.name))
        .map((node): Evidence => ({
          node,
          kind: 'night family',
          odds,
          text: `family ${family.id}: ${rhythm.text}`,
          source,
          at_ms: null,
        })),
    ),
  );
}
