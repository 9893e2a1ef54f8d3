// The numbers of two nights beside each other, in words. Pure.

import { change, charge, count, current, time } from '../host/say/quantities.ts';
import type { Findings } from '../host/contract/findings.ts';

export interface CompareRow {
  what: string;
  before: string;
  after: string;
  /** Empty where one of both is not known. */
  change: string;
}

function row(
  what: string,
  before: number | null,
  after: number | null,
  say: (value: number) => string,
  sayChange: (value: number) => string = signed(say),
): CompareRow {
  const said = (value: number | null) => (value === null ? 'not known' : say(value));
  return {
    what,
    before: said(before),
    after: said(after),
    change: before === null || after === null ? '' : sayChange(after - before),
  };
}

const signed = (say: (value: number) => string) => (value: number) => {
  const text = say(value);
  return value > 0 ? `+${text}` : text;
};

/** Wake-ups in 24 hours, so that nights of unequal length can be compared. */
export function wakeUpsPerDay({ wakeups, trace }: Findings): number {
  return trace.duration_s > 0 ? (wakeups.length * 86_400) / trace.duration_s : 0;
}

export function compareRows(before: Findings, after: Findings): CompareRow[] {
  const minus = (value: number) => count(Math.round(Math.abs(value)));
  const perDay = (value: number) => (value < 0 ? `\u2212${minus(value)}` : minus(value));
  const days = ({ battery }: Findings) =>
    battery.days === null || battery.days === undefined
      ? 'not known'
      : `${Math.floor(battery.days.low)} to ${Math.floor(battery.days.high)}`;
  return [
    row('asleep after', before.asleep?.after_s ?? null, after.asleep?.after_s ?? null, time),
    row('asleep level', before.asleep?.level_mA ?? null, after.asleep?.level_mA ?? null, current, change),
    row('average asleep', before.asleep?.mean_mA ?? null, after.asleep?.mean_mA ?? null, current, change),
    row('wake-ups in 24 h', wakeUpsPerDay(before), wakeUpsPerDay(after), perDay),
    row('charge a day asleep', before.bill?.per_day_mAh ?? null, after.bill?.per_day_mAh ?? null, charge),
    { what: 'days until it may not crank', before: days(before), after: days(after), change: '' },
  ];
}
