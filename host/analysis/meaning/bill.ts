// The charge bill: what the night's charge was drawn for, and what each part takes in a day. The lines
// are exact and add up to the total. The figures shown are rounded by the method of the largest
// remainder, so that they add up on paper as well.

import { ofWakeUps } from '../../say/polling.ts';
import { count, counted as countOf } from '../../say/quantities.ts';
import type { Gap } from '../../contract/capture.ts';
import type { Findings, WakeUp } from '../../contract/findings.ts';
import type { BillLine, BillTold } from '../../contract/meaning.ts';

const DAY_S = 86_400;
const SECONDS_PER_HOUR = 3600;

/**
 * The values rounded to `decimals` decimal places so that they add up to their rounded sum: all down, then
 * one unit more for those with the largest remainders. O(n log n). Source: the method of Hamilton, 1792.
 */
export function roundToSum(values: readonly number[], decimals: number): number[] {
  const unit = 10 ** decimals;
  const scaled = values.map((value) => value * unit);
  const floors = scaled.map(Math.floor);
  let left = Math.round(scaled.reduce((a, b) => a + b, 0)) - floors.reduce((a, b) => a + b, 0);
  const order = scaled.map((value, i) => ({ i, rest: value - floors[i]! })).sort((a, b) => b.rest - a.rest);
  for (const { i } of order) {
    if (left <= 0) break;
    floors[i]!++;
    left--;
  }
  return floors.map((value) => value / unit);
}

/** Decimal places of the bill's figures, by its total. */
function decimalsFor(total_mAh: number): number {
  const size = Math.abs(total_mAh);
  return size >= 10 ? 1 : size >= 1 ? 2 : 3;
}

/** Charge that the levels asleep drew above the allowance, wake-ups and gaps set aside, mAh. */
function beyond_mAh(findings: Findings): number {
  const { asleep, allowance_mA, levels, trace, charge } = findings;
  if (asleep === null) return 0;
  const dark = (from: number, to: number) =>
    trace.gaps.reduce((sum, gap) => sum + Math.max(0, Math.min(to, gap.end_s) - Math.max(from, gap.start_s)), 0);
  const area = levels.reduce((sum, level) => {
    const from = Math.max(level.start_s, asleep.after_s);
    const seconds = level.end_s - from;
    const level_mA = level.start_s <= asleep.after_s ? asleep.level_mA : level.level_mA;
    return seconds > 0 && level_mA > allowance_mA
      ? sum + (level_mA - allowance_mA) * (seconds - dark(from, level.end_s))
      : sum;
  }, 0);
  return Math.max(0, Math.min(area / SECONDS_PER_HOUR, charge.asleep_mAh));
}

/** A line of the bill; what `more` does not set is empty. */
function line(
  what: BillLine['what'],
  label: string,
  charge_mAh: number | null,
  more: Partial<BillLine> = {},
): BillLine {
  return {
    what,
    label,
    family: null,
    count: 0,
    charge_mAh,
    shown_mAh: null,
    share_pct: null,
    per_day_mAh: null,
    estimate_mAh: null,
    ...more,
  };
}

const wakeUps = (n: number) => `${count(n)} wake-up${n === 1 ? '' : 's'}`;
const gapCount = (n: number) => `${count(n)} gap${n === 1 ? '' : 's'}`;
const chargeOf = (wakeups: readonly WakeUp[]) => wakeups.reduce((sum, w) => sum + w.charge_mAh, 0);

/** A line for each family, and one for all wake-ups without a family. */
function wakeUpLines(findings: Findings, perDay: (mAh: number) => number | null): BillLine[] {
  const { families, wakeups, asleep } = findings;
  const late = (list: WakeUp[]) => (asleep === null ? [] : list.filter((w) => w.start_s >= asleep.after_s));
  const lines = ofWakeUps(families).map((family) => {
    const members = wakeups.filter((w) => w.family === family.id);
    const counted = late(members);
    return line('family', `family ${family.id}: ${wakeUps(members.length)}`, chargeOf(members), {
      family: family.id,
      count: members.length,
      per_day_mAh: counted.length === 0 ? null : perDay(chargeOf(counted)),
    });
  });
  const single = wakeups.filter((w) => w.family === null);
  if (single.length > 0) {
    const counted = late(single);
    lines.push(
      line('single', countOf(single.length, 'one-off wake-up'), chargeOf(single), {
        count: single.length,
        per_day_mAh: counted.length === 0 ? null : perDay(chargeOf(counted)),
      }),
    );
  }
  return lines;
}

/**
 * A line for the gaps whose charge the board's running counter gives, and one for those of unknown
 * charge.
 */
function gapLines(findings: Findings, gaps: readonly Gap[]): BillLine[] {
  const lines: BillLine[] = [];
  const known = gaps.filter((gap) => gap.charge_mAh !== null);
  if (findings.charge.gaps_mAh !== null)
    lines.push(
      line('gaps', `${gapCount(known.length)}, by the board's own counter`, findings.charge.gaps_mAh, {
        count: known.length,
      }),
    );
  const unknown = gaps.filter((gap) => gap.charge_mAh === null);
  if (unknown.length > 0) {
    const guessed = unknown.filter((gap) => gap.estimate_mAh !== undefined);
    const estimate =
      guessed.length === unknown.length
        ? {
            low: guessed.reduce((sum, gap) => sum + gap.estimate_mAh!.low, 0),
            high: guessed.reduce((sum, gap) => sum + gap.estimate_mAh!.high, 0),
          }
        : null;
    lines.push(
      line('gaps-unknown', `${gapCount(unknown.length)}, charge not measured`, null, {
        count: unknown.length,
        estimate_mAh: estimate,
      }),
    );
  }
  return lines;
}

/**
 * The charge bill of a night. O(families x wake-ups + levels x gaps).
 *
 * @param gaps the gaps of the trace, with their charge where it is known
 * @param asleep_s seconds that samples cover while asleep, which the figures per day are taken over; 0
 * for none
 */
export function billOf(findings: Findings, gaps: readonly Gap[], asleep_s: number): BillTold {
  const { charge, asleep } = findings;
  const perDay = (mAh: number) => (asleep_s > 0 ? (mAh / asleep_s) * DAY_S : null);
  const beyond = beyond_mAh(findings);
  const lines = [
    line('going-to-sleep', asleep === null ? 'never asleep' : 'going to sleep', charge.going_to_sleep_mAh),
    ...(asleep === null
      ? []
      : [
          line('asleep-within', beyond > 0 ? 'asleep, up to the allowance' : 'asleep', charge.asleep_mAh - beyond, {
            per_day_mAh: perDay(charge.asleep_mAh - beyond),
          }),
        ]),
    ...(beyond > 0
      ? [line('asleep-beyond', 'asleep, beyond the allowance', beyond, { per_day_mAh: perDay(beyond) })]
      : []),
    ...wakeUpLines(findings, perDay),
    ...gapLines(findings, gaps),
  ];
  const counted = lines.filter((l) => l.charge_mAh !== null);
  const values = counted.map((l) => l.charge_mAh!);
  const decimals = decimalsFor(charge.total_mAh);
  const shown = roundToSum(values, decimals);
  shown.forEach((value, i) => (counted[i]!.shown_mAh = value));
  if (charge.total_mAh > 0 && values.every((value) => value >= 0)) {
    roundToSum(
      values.map((value) => (value / charge.total_mAh) * 100),
      0,
    ).forEach((value, i) => (counted[i]!.share_pct = value));
  }
  const perDays = lines.flatMap((l) => l.per_day_mAh ?? []);
  return {
    total_mAh: charge.total_mAh,
    shown_mAh: Number(shown.reduce((a, b) => a + b, 0).toFixed(decimals)),
    decimals,
    per_day_mAh: perDays.length === 0 ? null : perDays.reduce((a, b) => a + b, 0),
    lines,
  };
}
