// Holds a charge bill against the samples that it was made from: an integral of our own,
// and the lines as printed. By the project's definition windows count mean times duration
// and points by the trapezoid rule, gaps only where the board told their charge.

import type { Trace } from '../../../../host/contract/capture.ts';
import type { NightMeaning } from '../../../../host/analysis/meaning/interpret.ts';

/** The exact charge of a trace in mAh. `isGap` tells which spacings hold no current. */
export function integral_mAh(trace: Trace, gaps: readonly { end_s: number }[]): number {
  const { mean_mA, dur_s, time } = trace;
  const known = trace.gaps.reduce((sum, gap) => sum + (gap.charge_mAh ?? 0), 0);
  let [sum, lost] = [0, 0];
  const add = (part: number) => {
    // Kahan's summation, so that the check is finer than what it checks.
    const y = part - lost;
    const next = sum + y;
    lost = next - sum - y;
    sum = next;
  };
  const ends = new Set(gaps.map((gap) => Math.round(gap.end_s * 1e6)));
  const at = (i: number) => (time.kind === 'regular' ? i * time.step_s : time.t_s[i]! - time.t_s[0]!);
  for (let i = 0; i < mean_mA.length; i++) {
    if (trace.kind === 'windows') add(mean_mA[i]! * (dur_s === null ? spacing(trace, i) : dur_s[i]!));
    else if (i > 0 && !ends.has(Math.round(at(i) * 1e6)))
      add(((mean_mA[i - 1]! + mean_mA[i]!) / 2) * (at(i) - at(i - 1)));
  }
  return sum / 3600 + known;
}

function spacing({ time }: Trace, i: number): number {
  if (time.kind === 'regular') return time.step_s;
  const { t_s } = time;
  return i + 1 < t_s.length ? t_s[i + 1]! - t_s[i]! : t_s[i]! - t_s[i - 1]!;
}

/** What does not add up: lines against the total, exact and as shown, and the total against the samples. */
export function billFaults({ bill, charge, trace: { gaps } }: NightMeaning, trace: Trace): string[] {
  const faults: string[] = [];
  const true_mAh = integral_mAh(trace, gaps);
  if (Math.abs(true_mAh - charge.total_mAh) > 1e-6 * Math.max(1, Math.abs(true_mAh)))
    faults.push(`total ${charge.total_mAh} for an integral of ${true_mAh}`);
  const exact = bill.lines.reduce((sum, line) => sum + (line.charge_mAh ?? 0), 0);
  if (Math.abs(exact - charge.total_mAh) > 1e-9 * Math.max(1, Math.abs(charge.total_mAh)))
    faults.push(`lines ${exact} for ${charge.total_mAh}`);
  const unit = 10 ** -bill.decimals;
  const units = (value: number) => Math.round(value / unit);
  const shown = bill.lines.reduce((sum, line) => sum + units(line.shown_mAh ?? 0), 0);
  if (shown !== units(bill.shown_mAh)) faults.push(`shown ${shown} for ${units(bill.shown_mAh)}`);
  if (Math.abs(bill.shown_mAh - charge.total_mAh) > 0.5 * unit + 1e-9)
    faults.push(`total ${bill.shown_mAh} for ${charge.total_mAh}`);
  for (const line of bill.lines)
    if (line.shown_mAh !== null && Math.abs(line.shown_mAh - line.charge_mAh!) > unit)
      faults.push(`${line.label}: ${line.shown_mAh} for ${line.charge_mAh}`);
  const shares = bill.lines.flatMap((line) => line.share_pct ?? []);
  if (shares.length > 0 && shares.reduce((a, b) => a + b, 0) !== 100) faults.push(`shares ${shares.join(' ')}`);
  return faults;
}
