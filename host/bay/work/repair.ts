// After the repair: two nights side by side as numbers, the sentence that says proven,
// not proven or too short, and what refitting and replacing asks for.

import { ofWakeUps } from '../../say/polling.ts';
import { charge, current, dayCount, days, time } from '../../say/quantities.ts';
import type { Findings } from '../../contract/findings.ts';

export type ProofOfRepair = 'proven' | 'not proven' | 'too short';

export interface RepairRow {
  what: string;
  unit: string;
  before: number | null;
  after: number | null;
}

export interface RepairResult {
  code: ProofOfRepair;
  sentence: string;
  rows: RepairRow[];
}

/** The second recording must show the car asleep this long: what wakes it may come once in hours. */
const ASLEEP_s_MIN = 3600;
/** A family of the first night must have been due so often before its absence proves anything. */
const DUE = 3;
/** What is left of the allowance when the level is taken for as far off as it may be. */
const FLICKER_mA = 10;

/** @param usable_Ah charge that may go before the car does not start; null where not known */
export function compareRepair(before: Findings, after: Findings, usable_Ah: number | null = null): RepairResult {
  const rows = rowsOf(before, after, usable_Ah);
  const { allowance_mA } = after;
  const needed_s = neededAsleep_s(before);
  const asleep_s = after.asleep === null ? 0 : lengthAsleep_s(after);
  const now_mA = draw_mA(after);
  const was_mA = draw_mA(before);
  const numbers = `${show(was_mA)} before, ${show(now_mA)} after, allowed ${allowance_mA} mA`;
  const say = (code: ProofOfRepair, text: string): RepairResult => ({
    code,
    sentence: `${code[0]!.toUpperCase()}${code.slice(1)}: ${text} (${numbers}).`,
    rows,
  });
  if (after.verdict.code === 'short' || after.asleep === null)
    return after.verdict.code === 'awake'
      ? say('not proven', 'the car did not go to sleep after the repair')
      : say('too short', 'the car was not seen asleep after the repair');
  if (after.verdict.code !== 'within') return say('not proven', 'the car still draws too much');
  if (asleep_s < needed_s)
    return say(
      'too short',
      `within the allowance so far, but asleep for ${time(asleep_s)} where ${time(needed_s)} are needed to prove it`,
    );
  if (was_mA !== null && before.verdict.code === 'within')
    return say('not proven', 'the car was within the allowance before the repair too');
  if (was_mA !== null && now_mA !== null && was_mA - now_mA <= FLICKER_mA)
    return say('not proven', 'the draw has hardly changed');
  if (before.trace.start !== null && after.trace.start !== null && before.trace.start > after.trace.start)
    return say(
      'not proven',
      'the night before the repair was recorded after the other one; choose them the other way round',
    );
  return say('proven', `within the allowance for ${time(asleep_s)}`);
}

/** From falling asleep on; the whole where it never did. */
const lengthAsleep_s = ({ trace, asleep }: Findings) => trace.duration_s - (asleep?.after_s ?? 0);

/** How long the car must be seen asleep: each family of before must have had its chance. */
function neededAsleep_s(before: Findings): number {
  const asleep_s = lengthAsleep_s(before);
  return Math.max(
    ASLEEP_s_MIN,
    ...ofWakeUps(before.families).map((family) => DUE * (family.period_s ?? asleep_s / family.count)),
  );
}

/** Mean draw from falling asleep on; of the whole where it never did. */
function draw_mA(findings: Findings): number | null {
  if (findings.asleep === null) return Number.isFinite(findings.trace.mean_mA) ? findings.trace.mean_mA : null;
  const length_s = lengthAsleep_s(findings);
  if (length_s <= 0) return findings.asleep.level_mA;
  const woken_mAh = findings.wakeups
    .filter((one) => one.start_s >= findings.asleep!.after_s)
    .reduce((sum, one) => sum + one.charge_mAh, 0);
  return ((findings.charge.asleep_mAh + woken_mAh) / length_s) * 3600;
}

function rowsOf(before: Findings, after: Findings, usable_Ah: number | null): RepairRow[] {
  const both = (what: string, unit: string, value: (findings: Findings) => number | null): RepairRow => ({
    what,
    unit,
    before: value(before),
    after: value(after),
  });
  return [
    both('asleep after', 'min', (f) => (f.asleep === null ? null : f.asleep.after_s / 60)),
    both('asleep level', 'mA', (f) => f.asleep?.level_mA ?? null),
    both('average asleep', 'mA', draw_mA),
    both('wake-ups in 24 h', '', (f) =>
      f.asleep === null
        ? null
        : f.wakeups.filter((one) => one.start_s >= f.asleep!.after_s).length / (lengthAsleep_s(f) / 86_400),
    ),
    both('charge of wake-ups', 'mAh', (f) => f.charge.wakeups_mAh),
    both('charge of the recording', 'mAh', (f) => f.charge.total_mAh),
    both('charge a day asleep', 'mAh', (f) => f.bill?.per_day_mAh ?? null),
    ...(usable_Ah === null
      ? [
          both('days until it may not crank, at least', 'd', (f) => f.battery.days?.low ?? null),
          both('days until it may not crank, at most', 'd', (f) => f.battery.days?.high ?? null),
        ]
      : [
          both('days until it may not crank', 'd', (f) => {
            const mA = draw_mA(f);
            return mA === null || mA <= 0 ? null : (usable_Ah * 1000) / mA / 24;
          }),
        ]),
  ].filter((row) => row.before !== null || row.after !== null);
}

const SHOWN: Record<string, (value: number) => string> = {
  min: (min) => time(min * 60),
  mA: current,
  mAh: charge,
  d: (n) => days(dayCount(n)),
  '': (n) => n.toFixed(1),
};

/** The rows as they are shown: what, before, after. */
export function repairTable({ rows }: RepairResult): string[][] {
  const shown = (value: number | null, unit: string) => (value === null ? 'not known' : SHOWN[unit]!(value));
  return rows.map(({ what, unit, before, after }) => [what, shown(before, unit), shown(after, unit)]);
}

const show = (mA: number | null) => (mA === null ? 'not known' : current(mA));

export interface ClosingItem {
  id: string;
  text: string;
}

/** What disconnecting, refitting and replacing may ask for (practice; the maker's procedure decides). */
export const CLOSING_LIST: readonly ClosingItem[] = Object.entries({
  fuses: 'Every fuse and relay is back in its place, with its own rating.',
  plugs: 'Every connector that was unplugged is plugged in and latched.',
  bridge: 'Bridge on, board out, cable on the post, bridge off last.',
  recharge: 'Battery recharged, charging voltage checked.',
  latches: 'Latches opened again by their handles; bonnet switch free.',
  learn: 'A module that was replaced is coded and initialised as the car maker says.',
  windows: 'Windows, sunroof and steering angle initialised where the car asks for it.',
  radio: 'Radio code entered, clock set.',
  resets: 'Battery replacement registered, service counters reset, where the car has them.',
  codes: 'Fault codes read and cleared: pulled fuses leave some.',
  tests: 'What was unplugged works: tried once each.',
}).map(([id, text]) => ({ id, text }));
