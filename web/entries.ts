// What happened, in the order of the night and in words: steps, wake-ups (a family is
// one entry), dips and gaps (many are one entry). Pure.

import { median } from 'd3-array';
import { pollingWords } from '../host/say/polling.ts';
import { change, charge, counted, current, every, time } from '../host/say/quantities.ts';
import type { Findings, WakeUp } from '../host/contract/findings.ts';

/** More gaps, or dips, than this share one entry. */
const SINGLY_MAX = 5;

export interface Entry {
  at_s: number;
  /** Orders what is left out first when there are too many. */
  weight: number;
  kind: 'step' | 'asleep' | 'family' | 'wakeup' | 'polling' | 'dip' | 'gap';
  /** Several of one kind under one entry, with a way through them. */
  fold: boolean;
  title: string;
  more: string;
  /** Events that it stands for, in order. */
  ids: string[];
}

/** All entries by the time at which they begin. */
// oxlint-disable-next-line max-lines-per-function -- one kind after the other, each a few lines
export function entriesOf(findings: Findings): Entry[] {
  const entries: Entry[] = findings.steps.map((step, i) => ({
    at_s: step.t_s,
    weight: Math.abs(step.to_mA - step.from_mA) + 1e6,
    kind: 'step',
    fold: false,
    title: `${change(step.to_mA - step.from_mA)} → ${current(step.to_mA)}`,
    more: `from ${current(step.from_mA)}`,
    ids: [`step-${i}`],
  }));
  if (findings.asleep !== null) {
    const { after_s, level_mA } = findings.asleep;
    entries.push({
      at_s: after_s,
      weight: Infinity,
      kind: 'asleep',
      fold: false,
      title: 'Asleep',
      more: `at ${current(level_mA)}, ${after_s < 1 ? 'from the start' : `after ${time(after_s)}`}`,
      ids: [],
    });
  }
  const families = new Map(findings.families.map((family) => [family.id, family]));
  const members = new Map<number, { wake: WakeUp; i: number }[]>();
  findings.wakeups.forEach((wake, i) => {
    if (wake.family === null || !families.has(wake.family)) entries.push(spanEntry('wakeup', 'Wake-up', wake, i));
    else if (members.has(wake.family)) members.get(wake.family)!.push({ wake, i });
    else members.set(wake.family, [{ wake, i }]);
  });
  for (const [id, list] of members) entries.push(familyEntry(families.get(id)!, list));
  for (const { title, more } of pollingWords(findings.families))
    entries.push({
      at_s: findings.asleep?.after_s ?? 0,
      weight: 1e6,
      kind: 'polling',
      fold: false,
      title,
      more,
      ids: [],
    });
  entries.push(
    ...folded(
      findings.dips.map((dip, i) => spanEntry('dip', 'Dip', dip, i)),
      'dip',
      findings.dips,
    ),
  );
  const { gaps } = findings.trace;
  entries.push(
    ...folded(
      gaps.map((gap, i): Entry => ({
        at_s: gap.start_s,
        weight: 1e9,
        kind: 'gap',
        fold: false,
        title: 'No readings',
        more: `for ${time(gap.end_s - gap.start_s)}`,
        ids: [`gap-${i}`],
      })),
      'gap',
      gaps,
    ),
  );
  return entries.sort((a, b) => a.at_s - b.at_s || Number(a.kind === 'asleep') - Number(b.kind === 'asleep'));
}

/** Many of one kind become one entry where the first of them stood. */
function folded(entries: Entry[], kind: 'dip' | 'gap', spans: { start_s: number; end_s: number }[]): Entry[] {
  if (entries.length <= SINGLY_MAX) return entries;
  const lengths = spans.map(({ start_s, end_s }) => end_s - start_s);
  const sum_s = lengths.reduce((sum, length) => sum + length, 0);
  return [
    {
      at_s: entries[0]!.at_s,
      weight: 1e9,
      kind,
      fold: true,
      title: kind === 'gap' ? `${counted(entries.length, 'gap')} without readings` : counted(entries.length, 'dip'),
      more: `${time(sum_s)} in all, the longest ${time(lengths.reduce((a, b) => Math.max(a, b)))}`,
      ids: entries.flatMap((entry) => entry.ids),
    },
  ];
}

function spanEntry(kind: 'wakeup' | 'dip', name: string, wake: WakeUp, i: number): Entry {
  const length = time(wake.end_s - wake.start_s);
  const extreme = kind === 'wakeup' ? `peak ${current(wake.peak_mA)}` : `mean ${current(wake.mean_mA)}`;
  return {
    at_s: wake.start_s,
    weight: Math.abs(wake.charge_mAh),
    kind,
    fold: false,
    title: `${name}, ${length}`,
    more: `${extreme}, ${charge(wake.charge_mAh)}`,
    ids: [`${kind}-${i}`],
  };
}

function familyEntry(family: Findings['families'][number], list: { wake: WakeUp; i: number }[]): Entry {
  const often = family.period_s === null ? '' : `, ${every(family.period_s, family.period_chance)}`;
  const sum = list.reduce((total, { wake }) => total + wake.charge_mAh, 0);
  // The median, as the explanation of the family tells it in terminal and report.
  const peak = median(list, ({ wake }) => wake.peak_mA)!;
  return {
    at_s: list[0]!.wake.start_s,
    weight: 1e9,
    kind: 'family',
    fold: true,
    title: `Family ${family.id}: ${counted(list.length, 'wake-up')}${often}`,
    more: `${time(family.duration_s)} each, peak ${current(peak)}, ${charge(sum)} in all`,
    ids: list.map(({ i }) => `wakeup-${i}`),
  };
}
