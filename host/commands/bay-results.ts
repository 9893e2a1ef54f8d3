// What a capture holds of work in the bay, for the commands that show it: read, and in
// words for a terminal.

import { current } from '../say/quantities.ts';
import { timeWords } from '../say/times.ts';
import { bayResults } from '../bay/work/results.ts';
import type { BayResults, TestResult } from '../bay/work/results.ts';
import { readBay } from '../capture/store/bay-log.ts';
import type { CaptureInfo } from '../contract/capture.ts';
import { sentence, table } from './columns.ts';

/** Rows told one by one; more are counted. */
const LISTED_MAX = 40;

/**
 * @param info null for a CSV, which has no room for such work
 * @param say told where the work is there and cannot be read: the night is shown all the same
 */
export function resultsIn(path: string, info: CaptureInfo | null, say: (line: string) => void): BayResults | null {
  const kept = info === null ? null : readBay(path);
  if (kept === null) return null;
  try {
    return bayResults(kept);
  } catch (error) {
    say(`${path}: its work in the bay is left out: ${(error as Error).message}`);
    return null;
  }
}

/** @param start the trace's first sample, ISO 8601; null without a clock */
export function resultsInWords(results: BayResults, start: string | null): string {
  const at = toTheSecond(start === null ? null : Date.parse(start));
  const { parts, tests, drops, evidence, proof, closing, sum } = results;
  const block = (title: string, lines: string[]) => (lines.length === 0 ? [] : [[title, ...lines].join('\n')]);
  const more = tests.length > LISTED_MAX ? [`  and ${tests.length - LISTED_MAX} more; --json has them all`] : [];
  return [
    [
      'In the bay',
      sentence(results.sentence, '  '),
      ...(sum === null ? [] : [sentence(sum.sentence, '  ')]),
      sentence(`Next: ${results.next}`, '  ', '        '),
    ].join('\n'),
    ...block(
      'Parts',
      parts.map((one) =>
        sentence(
          `${one.code}: ${one.name}, ${current(one.amount_mA)}${one.doubt_mA === null ? '' : `, give or take ${one.doubt_mA.toFixed(0)}`}${one.way === '' ? '' : ` (${one.way})`}`,
          '  ',
          '    ',
        ),
      ),
    ),
    ...block('Pulled and read', [
      ...table(
        tests.slice(0, LISTED_MAX).map((one) => [at(one.t_s), one.how, one.name, ...amounts(one)]),
        'lllrrl',
      ),
      ...more,
    ]),
    ...block('Voltages across fuses', drops === null ? [] : [sentence(drops.sentence, '  ')]),
    ...block(
      'Evidence from elsewhere',
      evidence.map((one) =>
        sentence(
          `${one.name}: ${one.text} (${one.kind}, ${one.oddsInWords}; ${one.source}${one.at === null ? '' : `, ${one.at.slice(0, 16).replace('T', ' ')} UTC`})`,
          '  ',
          '    ',
        ),
      ),
    ),
    ...block('Proof load', proof === null ? [] : [sentence(`${at(proof.t_s)} ${proof.sentence}`, '  ')]),
    ...block(
      'Before the car goes',
      results.outcome === null && !closing.some((item) => item.ticked)
        ? []
        : closing.map((item) => sentence(item.text, `  [${item.ticked ? 'x' : ' '}] `, '      ')),
    ),
  ].join('\n\n');
}

/** Fuses are pulled within seconds of each other: the clock with its seconds. */
function toTheSecond(start_ms: number | null): (t_s: number) => string {
  if (start_ms !== null) return timeWords(start_ms).seconds;
  const minutes = timeWords(null).minutes;
  return (t_s) => minutes(t_s).replace(' h', `:${String(Math.floor(Math.max(0, t_s) % 60)).padStart(2, '0')} h`);
}

/** The voltage that was read, the draw with its doubt, and what that means. */
function amounts(one: TestResult): string[] {
  const says = one.how === 'measured' ? '' : one.says;
  return [
    one.drop_mV === null ? '' : `${one.drop_mV} mV`,
    `${one.amount_mA.toFixed(0)} ± ${current(one.doubt_mA)}`,
    says,
  ];
}
