// Explanations: for each family and single wake-up, and for each step that resembles a known one, its
// shape, when it occurs, and what a healthy car does that resembles it, with what fits and what does not.
// Likeness is the share of published features that fit, and no diagnosis.

import { current, time, times } from '../../say/quantities.ts';
import { median } from 'd3-array';
import type { Family, Findings, WakeUp } from '../../contract/findings.ts';
import { CAUSES } from './causes.ts';
import type { Cause } from './causes.ts';
import type { CauseTold, Explanation } from '../../contract/meaning.ts';
import { isGoingToSleepAnew } from './going-to-sleep-anew.ts';

/** A cause is named when at least this share of its features fits. */
const LIKENESS_MIN = 0.66;
/** Most single wake-ups that are explained, the costliest first. */
const SINGLES_MAX = 12;
/** Starts keep to the clock when they are this near to the same minute past the hour. */
const CLOCK_SURE_S = 90;
/** Periods that a clock would keep. */
const CLOCK_PERIODS_S = [900, 1800, 3600, 7200, 10_800, 14_400, 21_600];
/**
 * A family lasts all night when its silence at either end is no longer than this share of the time
 * asleep.
 */
const SILENT_SHARE = 0.15;

/** What is compared with the known causes: a family, a wake-up or a step. */
interface Observed {
  kind: Cause['kind'];
  count: number;
  period_s: number | null;
  length_s: number;
  height_mA: number;
  peak_mA: number;
  starts_s: number[];
}

const within = (value: number, [low, high]: readonly [number, number]) => value >= low && value <= high;

/** Compares what was observed with one cause, feature by feature. */
function compareWithCause(cause: Cause, observed: Observed): CauseTold {
  const fits: string[] = [];
  const misses: string[] = [];
  const note = (feature: string, isFit: boolean) => (isFit ? fits : misses).push(feature);
  if (cause.period_s !== undefined)
    note('period', observed.period_s !== null && within(observed.period_s, cause.period_s));
  if (cause.length_s !== undefined) note('length', within(observed.length_s, cause.length_s));
  if (cause.height_mA !== undefined) note('current', within(observed.height_mA, cause.height_mA));
  if (cause.peak_mA !== undefined) note('peak', within(observed.peak_mA, cause.peak_mA));
  if (cause.when_s !== undefined)
    note(
      'time since key-off',
      observed.starts_s.every((t) => cause.when_s!.some((span) => within(t, span))),
    );
  if (cause.count_max !== undefined) note('rarity', observed.count <= cause.count_max);
  if (cause.count_min !== undefined) note('repetition', observed.count >= cause.count_min);
  const { code, what, source } = cause;
  return { code, what, likeness: fits.length / (fits.length + misses.length), fits, misses, source, try: cause.try };
}

/** Features that must fit where the cause has them: a length alone resembles anything. */
const TELLING = ['period', 'peak', 'time since key-off'];

/** The causes that resemble what was observed, the likeliest first. */
function causesOf(observed: Observed): CauseTold[] {
  return CAUSES.filter((cause) => cause.kind === observed.kind)
    .map((cause) => compareWithCause(cause, observed))
    .filter((c) => c.likeness >= LIKENESS_MIN && c.misses.every((feature) => !TELLING.includes(feature)))
    .sort((a, b) => b.likeness - a.likeness || b.fits.length - a.fits.length);
}

/**
 * Mean height of a wake-up over the level before it, mA: its charge over its length, but no more than its
 * peak; the peak where it has no length. O(1).
 */
export function heightOf(w: WakeUp): number {
  const seconds = w.end_s - w.start_s;
  return seconds > 0 ? Math.min((w.charge_mAh * 3600) / seconds, w.peak_mA) : w.peak_mA;
}

/** In which part of the time asleep something happens that occurs `n` times. */
function patternOf(
  findings: Findings,
  first_s: number,
  last_s: number,
  period_s: number | null,
  n: number,
): Explanation['pattern'] {
  if (n === 1) return 'once';
  const from_s = findings.asleep?.after_s ?? 0;
  const to_s = findings.trace.duration_s;
  const silent_s = Math.max(SILENT_SHARE * (to_s - from_s), 2 * (period_s ?? 0));
  const early = first_s - from_s <= silent_s;
  const late = to_s - last_s <= silent_s;
  return early && late ? 'all night' : early ? 'early only' : late ? 'late only' : 'a part of the night';
}

/**
 * Minutes past the full hour that the starts keep to; null where they keep to none, or the clock time
 * is not known.
 */
function onTheHour(starts_s: readonly number[], period_s: number | null, start_ms: number | null): number | null {
  const clock_s = CLOCK_PERIODS_S.find((p) => period_s !== null && Math.abs(period_s / p - 1) < 0.01);
  if (clock_s === undefined || start_ms === null) return null;
  const within_s = Math.min(clock_s, 3600);
  const phases = starts_s.map((t) => (((start_ms / 1000 + t) % within_s) + within_s) % within_s);
  const middle = phases[0]!;
  const off = (phase: number) => Math.abs(((phase - middle + 1.5 * within_s) % within_s) - within_s / 2);
  return phases.every((phase) => off(phase) <= CLOCK_SURE_S) ? Math.round(middle / 60) % 60 : null;
}

const UNLIKE = 'No known normal cause matches.';

/** `a`, `a and b`, `a, b and c`. */
function joinWords(words: readonly string[]): string {
  return words.length < 2 ? words.join('') : `${words.slice(0, -1).join(', ')} and ${words.at(-1)!}`;
}

/**
 * The sentence about something and its best cause, and what to try; `causes` null for going to sleep
 * anew.
 */
function causeWords(causes: CauseTold[] | null, start: string): { sentence: string; try: string | null } {
  if (causes === null)
    return {
      sentence: `${start}. The whole car woke and went to sleep again.`,
      try: 'Ask who was at the car, and see whether a door or bonnet shows open.',
    };
  const [best] = causes;
  if (best === undefined) return { sentence: `${start}. ${UNLIKE}`, try: null };
  const misses =
    best.misses.length === 0 ? '' : `, ${joinWords(best.misses)} ${best.misses.length === 1 ? 'does' : 'do'} not`;
  return {
    sentence: `${start}. Possible normal cause: ${best.what} (${joinWords(best.fits)} match${best.fits.length === 1 ? 'es' : ''}${misses}).`,
    try: best.try,
  };
}

/** The explanation of a family or of a single wake-up. */
function explainEvents(
  findings: Findings,
  about: 'family' | 'wakeup',
  id: number,
  members: WakeUp[],
  { period_s, period_chance }: Pick<Family, 'period_s' | 'period_chance'>,
  start_ms: number | null,
): Explanation {
  const starts_s = members.map((w) => w.start_s);
  const shape = {
    length_s: median(members.map((w) => w.end_s - w.start_s))!,
    height_mA: median(members.map(heightOf))!,
    mean_mA: median(members.map((w) => w.mean_mA))!,
    peak_mA: median(members.map((w) => w.peak_mA))!,
    inner_steps: median(members.map((w) => w.steps.length))!,
  };
  const [first_s, last_s] = [starts_s[0]!, starts_s.at(-1)!];
  // Peaks are compared as heights over the level they stand on, as the published figures are.
  const base_mA = shape.mean_mA - shape.height_mA;
  // Going to sleep anew explains itself, whatever the hour.
  const isAnew = members.every((w) => isGoingToSleepAnew(w, findings.asleep?.level_mA ?? 0));
  const causes = isAnew
    ? []
    : causesOf({
        kind: 'event',
        count: members.length,
        period_s,
        length_s: shape.length_s,
        height_mA: shape.height_mA,
        peak_mA: shape.peak_mA - base_mA,
        starts_s,
      });
  const next_due_s = period_s === null ? null : nextAfter(last_s, period_s, findings.trace.duration_s);
  const every = period_s === null ? '' : `, every ${time(period_s)}`;
  const words = causeWords(
    isAnew ? null : causes,
    `${about === 'family' ? `Family ${id}: ` : ''}${times(members.length)}${every}, ${time(shape.length_s)} at ${current(shape.mean_mA)}`,
  );
  const sentence = words.sentence[0]!.toUpperCase() + words.sentence.slice(1);
  return {
    about,
    id,
    count: members.length,
    period_s,
    period_chance,
    first_s,
    last_s,
    shape,
    pattern: patternOf(findings, first_s, last_s, period_s, members.length),
    on_the_hour_min: onTheHour(starts_s, period_s, start_ms),
    next_due_s,
    causes,
    sentence,
    try:
      words.try ??
      (period_s === null
        ? 'Record another night: see whether it repeats at the same hour or interval. Then read the voltages across the fuses while it is awake, before you pull one.'
        : 'Be at the car when the next one is due: read the voltages across the fuses while it is awake, before you pull one.'),
  };
}

/** When the next one is due after `end_s`. */
function nextAfter(last_s: number, period_s: number, end_s: number): number {
  return last_s + period_s * Math.max(1, Math.ceil((end_s - last_s) / period_s));
}

/** Explanations of the falls of level that resemble a known cause. */
function explainSteps(findings: Findings): Explanation[] {
  return findings.steps.flatMap((step, id) => {
    const fall_mA = step.from_mA - step.to_mA;
    if (fall_mA <= 0) return [];
    const causes = causesOf({
      kind: 'step',
      count: 1,
      period_s: null,
      length_s: 0,
      height_mA: fall_mA,
      peak_mA: fall_mA,
      starts_s: [step.t_s],
    });
    const [best] = causes;
    if (best === undefined) return [];
    const { sentence } = causeWords(causes, `A fall of ${current(fall_mA)} after ${time(step.t_s)}`);
    return [
      {
        about: 'step' as const,
        id,
        count: 1,
        period_s: null,
        period_chance: null,
        first_s: step.t_s,
        last_s: step.t_s,
        shape: null,
        pattern: 'once' as const,
        on_the_hour_min: null,
        next_due_s: null,
        causes,
        sentence,
        try: best.try,
      },
    ];
  });
}

/**
 * The explanations of a night: families first, then the twelve costliest single wake-ups, then the steps
 * that resemble a known cause. O(wake-ups log wake-ups + steps).
 *
 * @param start_ms start of the night by the clock, milliseconds since 1970; null where it is not known
 */
export function explanationsOf(findings: Findings, start_ms: number | null): Explanation[] {
  const { families, wakeups } = findings;
  const byFamily = new Map<number, WakeUp[]>();
  for (const w of wakeups) {
    if (w.family === null) continue;
    const members = byFamily.get(w.family);
    if (members === undefined) byFamily.set(w.family, [w]);
    else members.push(w);
  }
  const singles = wakeups
    .map((w, i) => ({ w, i }))
    .filter(({ w }) => w.family === null)
    .sort((a, b) => b.w.charge_mAh - a.w.charge_mAh)
    .slice(0, SINGLES_MAX);
  return [
    ...families.flatMap((f) => {
      const members = byFamily.get(f.id);
      return members === undefined ? [] : [explainEvents(findings, 'family', f.id, members, f, start_ms)];
    }),
    ...singles.map(({ w, i }) =>
      explainEvents(findings, 'wakeup', i, [w], { period_s: null, period_chance: null }, start_ms),
    ),
    ...explainSteps(findings),
  ];
}
