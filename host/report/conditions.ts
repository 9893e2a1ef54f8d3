// Under which conditions the night was recorded: what anybody needs to know to doubt a
// figure of the report, or to measure it again.

import { boardNumber } from '../say/board.ts';
import { checkedWords } from '../say/certificate.ts';
import { count, current, time } from '../say/quantities.ts';
import type { CaptureInfo } from '../contract/capture.ts';
import type { BaySource, ReportSource } from './source.ts';
import { printable } from './printable.ts';

export function conditionsOf({ night, info, fileName, bay, before }: ReportSource): [string, string][] {
  const { allowance, trace, battery } = night;
  return [
    ['Allowance', `${current(allowance.mA)}: ${allowance.source}`],
    [
      'Asleep',
      night.asleep === null
        ? 'never in this recording'
        : `after ${time(night.asleep.after_s)}, at ${current(night.asleep.level_mA)}; expected within ${allowance.settle_min} min`,
    ],
    ...boardLines(info),
    ['Gaps', gapWords(trace.gaps)],
    ['Temperature', `${degrees(battery.temperature_C)} taken for the battery`],
    [
      'Readings',
      `${count(trace.samples)} in ${fileName}${info === null || info.badLineCount === 0 ? '' : `; ${count(info.badLineCount)} lines not believed`}`,
    ],
    ...(bay === null ? [] : [['In the bay', bayWords(bay)] satisfies [string, string]]),
    ...(before === null ? [] : [['Before', printable(before.fileName)] satisfies [string, string]]),
  ];
}

function bayWords({ results, fileName }: BaySource): string {
  const { items, seen, against } = results.prepared;
  return `${printable(fileName)}; allowance ${results.allowance_mA} mA; ${items} items of the preparation gone through, of which the readings confirm ${seen} and speak against ${against}`;
}

function boardLines(info: CaptureInfo | null): [string, string][] {
  if (info === null || info.runs.length === 0)
    return [['Board', 'none: a log of another meter, its accuracy is not known here']];
  const hello = info.runs[info.runs.length - 1]!.hello;
  const calibrated = hello.cal === undefined ? 'not known' : hello.cal;
  const later = info.calibrations[info.calibrations.length - 1];
  const boots = info.runs.length === 1 ? '' : `, ${info.runs.length} boots`;
  return [
    [
      'Board',
      `${boardNumber(hello.id)}, firmware ${hello.fw}, ${hello.sensor}${hello.speed === 1 ? '' : `, emulated at ${hello.speed} times the speed`}${boots}`,
    ],
    ['Shunt', `${(hello.shunt_nOhm / 1000).toFixed(1)} µΩ, gain ${hello.gain_ppm} ppm, zero ${hello.offset_nV} nV`],
    ...(info.certificate
      ? [['Checked', printable(checkedWords(info.certificate, hello.cal_gen))] satisfies [string, string]]
      : []),
    ['Calibration', later === undefined ? `as in the board: ${calibrated}` : 'corrected later, in this file'],
    [
      'Clock',
      "times within about 0.1 s of the computer's (simulated, not measured for this night); the date is the computer's",
    ],
  ];
}

function gapWords(gaps: ReportSource['night']['trace']['gaps']): string {
  if (gaps.length === 0) return 'none';
  const sum_s = gaps.reduce((sum, gap) => sum + gap.end_s - gap.start_s, 0);
  const unknown = gaps.filter((gap) => typeof gap.charge_mAh !== 'number').length;
  return `${count(gaps.length)}, ${time(sum_s)} in all${unknown === 0 ? ', charge counted by the board' : `; charge of ${count(unknown)} not known`}`;
}

function degrees({ low, high }: { low: number; high: number }): string {
  return low === high ? `${Math.round(low)} °C` : `${Math.round(low)} to ${Math.round(high)} °C`;
}
