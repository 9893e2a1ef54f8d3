// What a night means, in words for a terminal: the verdict first, then the charge bill,
// what woke the car, its steps, the battery, and what to look out for.

import { pollingWords } from '../say/polling.ts';
import { charge, count, current, doubtOf, time } from '../say/quantities.ts';
import type { GapFound, WakeUp } from '../contract/findings.ts';
import type { NightMeaning } from '../analysis/meaning/interpret.ts';
import type { Explanation, Warning } from '../contract/meaning.ts';
import { BILL_HEAD, billRows } from '../say/bill.ts';
import { timeWords } from '../say/times.ts';
import { BEFORE_PULLING } from '../say/cautions.ts';
import { sentence, table } from './columns.ts';

/** Steps told one by one in the terminal; more are counted. */
const LISTED_MAX = 24;

type Clock = (t_s: number) => string;

/** The whole text, without a line end at its end. */
export function inWords(night: NightMeaning): string {
  const start_ms = night.trace.start === null ? null : Date.parse(night.trace.start);
  const at: Clock = timeWords(start_ms).seconds;
  const grave = night.warnings.filter((w) => w.grave);
  const other = night.warnings.filter((w) => !w.grave);
  return [
    [sentence(night.verdict.sentence), sentence(`Next: ${night.next}`, '', '      ')],
    ...(grave.length === 0 ? [] : [warningLines('First put this right', grave, night.next)]),
    billLines(night),
    ...wakeUpLines(night, at),
    ...(night.steps.length === 0 ? [] : [stepLines(night, at)]),
    ...(night.dips.length === 0 ? [] : [eventLines('Dips', night.dips, at)]),
    ...(night.trace.gaps.length === 0 ? [] : [gapLines(night.trace.gaps, at)]),
    batteryLines(night),
    ...(other.length === 0 ? [] : [warningLines('Look out', other, night.next)]),
    ['At the car', ...BEFORE_PULLING.map((text) => sentence(text, '  ! ', '    '))],
  ]
    .map((lines) => lines.join('\n'))
    .join('\n\n');
}

function billLines({ bill, trace, allowance }: NightMeaning): string[] {
  const { rows, total } = billRows(bill);
  return [
    `Charge bill, ${time(trace.duration_s)}`,
    ...table([[...BILL_HEAD], ...rows, total], `l${'r'.repeat(BILL_HEAD.length - 1)}`),
    sentence(`Allowance ${current(allowance.mA)}: ${allowance.source}.`, '  '),
  ];
}

const pollingLines = ({ families }: NightMeaning): string[][] => {
  const told = pollingWords(families).map(({ title, more }) => sentence(`${title}, ${more}.`, '', '  '));
  return told.length === 0 ? [] : [told];
};

function wakeUpLines(night: NightMeaning, at: Clock): string[][] {
  const { wakeups, explanations } = night;
  if (wakeups.length === 0) return pollingLines(night);
  const events = explanations.filter((e) => e.about !== 'step');
  const shown = events.flatMap((e) => explained(e, at));
  const singles = wakeups.filter((w) => w.family === null).length;
  const told = events.filter((e) => e.about === 'wakeup').length;
  const rest = singles > told ? [`  and ${count(singles - told)} smaller one-off ones; --json has them all`] : [];
  return [[`Wake-ups: ${count(wakeups.length)}`, ...shown, ...rest], ...pollingLines(night)];
}

function explained(e: Explanation, at: Clock): string[] {
  const { shape } = e;
  const inside =
    shape === null || shape.inner_steps < 1
      ? ''
      : `, ${Math.round(shape.inner_steps)} step${shape.inner_steps < 1.5 ? '' : 's'} inside`;
  const when = e.count === 1 ? `At ${at(e.first_s)}` : `From ${at(e.first_s)} to ${at(e.last_s)}, ${e.pattern}`;
  const hour = e.on_the_hour_min === null ? '' : `, always ${e.on_the_hour_min} min past the hour`;
  const doubt = doubtOf(e.period_chance);
  const due = e.next_due_s === null ? '' : ` Next due at ${at(e.next_due_s)}.`;
  return [
    sentence(e.sentence, '  ', '    '),
    sentence(
      `${when}${hour}${doubt === '' ? '' : `; ${doubt}`}; peak ${current(shape?.peak_mA ?? 0)}${inside}.${due}`,
      '    ',
    ),
    ...e.causes.slice(0, 1).map((cause) => sentence(`Published: ${cause.source}.`, '    ')),
    sentence(`Try: ${e.try}`, '    ', '         '),
  ];
}

function stepLines({ steps, explanations }: NightMeaning, at: Clock): string[] {
  const causes = new Map(explanations.filter((e) => e.about === 'step').map((e) => [e.id, e.causes[0]!.what]));
  const rows = steps
    .slice(0, LISTED_MAX)
    .map((s, i) => [
      at(s.t_s),
      current(s.from_mA),
      '->',
      current(s.to_mA),
      causes.has(i) ? `like ${causes.get(i)!}` : '',
    ]);
  const more = steps.length > LISTED_MAX ? [`  and ${count(steps.length - LISTED_MAX)} more; --json has them all`] : [];
  return [`Steps: ${count(steps.length)}`, ...table(rows, 'lrlrl'), ...more];
}

function eventLines(title: string, events: readonly WakeUp[], at: Clock): string[] {
  const rows = events
    .slice(0, LISTED_MAX)
    .map((w) => [at(w.start_s), time(w.end_s - w.start_s), `to ${current(w.peak_mA)}`]);
  const more =
    events.length > LISTED_MAX ? [`  and ${count(events.length - LISTED_MAX)} more; --json has them all`] : [];
  return [`${title}: ${count(events.length)}`, ...table(rows, 'lrr'), ...more];
}

function gapLines(gaps: readonly GapFound[], at: Clock): string[] {
  const rows = gaps.slice(0, LISTED_MAX).map((gap) => {
    const sure =
      gap.uncertain_s === undefined
        ? ''
        : gap.uncertain_s === null
          ? ', by a clock that may have been set'
          : `, give or take ${time(gap.uncertain_s)}`;
    const { charge_mAh, estimate_mAh } = gap;
    const took =
      typeof charge_mAh === 'number'
        ? charge(charge_mAh)
        : estimate_mAh === undefined
          ? 'charge not known'
          : `${charge(estimate_mAh.low)} to ${charge(estimate_mAh.high)}, an estimate`;
    return [`${at(gap.start_s)} to ${at(gap.end_s)}`, time(gap.end_s - gap.start_s) + sure, took];
  });
  const more = gaps.length > LISTED_MAX ? [`  and ${count(gaps.length - LISTED_MAX)} more; --json has them all`] : [];
  return [`Gaps: ${count(gaps.length)}`, ...table(rows, 'lll'), ...more];
}

function batteryLines({ battery, complaint, next }: NightMeaning): string[] {
  return [
    'Battery',
    sentence(battery.sentence, '  '),
    ...(complaint === null
      ? []
      : [
          sentence(complaint.sentence, '  '),
          ...(complaint.next === next ? [] : [sentence(`Next: ${complaint.next}`, '    ', '          ')]),
        ]),
    ...battery.assumptions.map((text) => sentence(`- ${text}`, '  ', '    ')),
  ];
}

/** @param said the next step that stands above already */
function warningLines(title: string, warnings: readonly Warning[], said: string): string[] {
  return [
    title,
    ...warnings.flatMap((w) => [
      sentence(w.sentence, '  '),
      ...(w.next === said ? [] : [sentence(`Next: ${w.next}`, '    ', '          ')]),
    ]),
  ];
}
