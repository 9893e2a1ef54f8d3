// Warnings about readings that are too low: all night, because the bridge or the cable still carries the
// current past the board; or from some time on, because a second path was connected.

import { current } from '../../../say/quantities.ts';
import { median } from 'd3-array';
import type { Findings, WakeUp } from '../../../contract/findings.ts';
import { heightOf } from '../explanations.ts';
import type { Warning } from '../../../contract/meaning.ts';
import type { WarningRule, Proof } from './scene.ts';
import { warning } from './scene.ts';

/**
 * Hardly any car with control units draws less asleep, 10 to 30 mA being usual: common practice, no
 * source.
 */
const LOW_MA = 3;
/** Any current over this shows that the car's current does go through the board. */
const SHOWN_MA = 30;
/** The bridge should come off within the first half hour; after that it was forgotten. */
const BRIDGE_S = 1800;
/** The proof load is sought this long from the start, or this near to the time that was told. */
const PROOF_WITHIN_S = 900;
const PROOF_AT_S = 60;
/** A rise is the proof load within this share of it. */
const PROOF_SURE = 0.2;
/** Falls to less than this share of the level before them, and by at least this much, are examined. */
const FALL_SHARE = 0.5;
const FALL_MA = 5;
/**
 * A control unit may stay half awake for up to 3 h (a carmaker's service manual, 2010); later falls
 * have other reasons.
 */
const HALF_AWAKE_S = 10_800 * 1.1;
/** Least time at the levels before and after such a fall. */
const HELD_S = 1200;

/** Heights of the rises near the time of the proof load, mA. */
function risesNear(findings: Findings, proof: Proof): number[] {
  const [from_s, to_s] = proof.at_s === null ? [0, PROOF_WITHIN_S] : [proof.at_s - PROOF_AT_S, proof.at_s + PROOF_AT_S];
  const near = (t: number) => t >= from_s && t <= to_s;
  return [
    ...findings.wakeups.filter((w) => near(w.start_s)).map(heightOf),
    ...findings.steps.filter((s) => near(s.t_s) && s.to_mA > s.from_mA).map((s) => s.to_mA - s.from_mA),
  ];
}

/** What the proof load shows; a warning where it went past the board. */
type Proven = 'no-proof' | 'shown' | 'unsure' | Warning;

/** Looks for the proof load among the rises near its time. */
function judgeProof(findings: Findings, proof: Proof | null): Proven {
  if (proof === null) return 'no-proof';
  const { load_mA } = proof;
  const rises = risesNear(findings, proof);
  const next = 'Take the bridge off, see that the cable touches no post, and switch the proof load on again.';
  if (rises.length === 0)
    return warning(
      'bridge-on',
      `The proof load of ${current(load_mA)} does not show: the bridge or the cable still carries the current past the board.`,
      next,
      { load_mA },
    );
  const off = (rise: number) => Math.abs(Math.log(rise / load_mA));
  const seen_mA = rises.reduce((best, rise) => (off(rise) < off(best) ? rise : best));
  const share = seen_mA / load_mA;
  if (Math.abs(share - 1) <= PROOF_SURE) return 'shown';
  if (share > 1) return 'unsure';
  return warning(
    'bridge-on',
    `Of the proof load of ${current(load_mA)} only ${current(seen_mA)} went through the board, ${Math.round(share * 100)} %: the bridge or the cable still carries the rest.`,
    next,
    { load_mA, seen_mA, share_pct: share * 100 },
  );
}

/** Start of the first level that is not near zero; null where the first level is not, or none is. */
function roseAt(findings: Findings): number | null {
  const first = findings.levels.findIndex((level) => Math.abs(level.level_mA) >= LOW_MA);
  return first > 0 ? findings.levels[first]!.start_s : null;
}

/** `bridge-on`, `proof-unsure` or `too-low`: the current may not go through the board, or not all of it. */
export const bridgeWarning: WarningRule = ({ findings, proof, coarse, clock }) => {
  const proven = judgeProof(findings, proof);
  if (typeof proven === 'object') return proven;
  const rose_s = roseAt(findings);
  const share = rose_s === null ? 0 : rose_s / findings.trace.duration_s;
  if (
    proven !== 'shown' &&
    rose_s !== null &&
    rose_s > BRIDGE_S &&
    share > 0.5 &&
    !findings.wakeups.some((w) => w.start_s < rose_s && w.peak_mA > SHOWN_MA)
  ) {
    const to_mA = findings.levels.find((level) => level.start_s >= rose_s)!.level_mA;
    return warning(
      'bridge-on',
      `The reading lay near zero until ${clock(rose_s)}, then rose to ${current(to_mA)}: the bridge may have come off only then.`,
      'If so, only what follows counts: record another night with the bridge off.',
      { rose_s, to_mA },
    );
  }
  if (proven === 'unsure') {
    return warning(
      'proof-unsure',
      `The proof load of ${current(proof!.load_mA)} cannot be told apart from other rises at that time.`,
      'Switch the proof load on again when the car is quiet, and say when.',
      { load_mA: proof!.load_mA },
    );
  }
  const low = findings.levels.every((level) => Math.abs(level.level_mA) < LOW_MA) && coarse.highest_mA < SHOWN_MA;
  if (!low || proven === 'shown') return null;
  const { mean_mA } = findings.trace;
  return warning(
    'too-low',
    `The reading lay near zero all the time (${current(mean_mA)} on average): either the car draws this little, or the bridge or the cable carries its current past the board.`,
    'Look whether the bridge is off and the cable lies free; switch a known load on for a minute (a lamp of 5 W draws about 400 mA) and give it as the proof load.',
    { mean_mA, lamp_W: 5, lamp_mA: 400 },
  );
};

/**
 * Median ratio of the heights of wake-ups after `t_s` to those of like length before it; null for fewer
 * than two.
 */
function heightRatioAcross(wakeups: readonly WakeUp[], t_s: number): number | null {
  const before = wakeups.filter((w) => w.end_s <= t_s);
  const after = wakeups.filter((w) => w.start_s >= t_s);
  const length = (w: WakeUp) => w.end_s - w.start_s;
  const ratios = after.flatMap((w) => {
    const like = before.filter((b) => Math.abs(Math.log(length(b) / length(w))) < Math.log(1.3));
    return like.length === 0 ? [] : [heightOf(w) / median(like.map(heightOf))!];
  });
  return ratios.length < 2 ? null : median(ratios)!;
}

/**
 * `ground-loop` or `fell-low`: the level fell as it does when a second path from the board's ground to
 * the body opens.
 */
export const fallWarning: WarningRule = ({ findings, clock }) => {
  for (let i = 1; i < findings.levels.length; i++) {
    const [before, after] = [findings.levels[i - 1]!, findings.levels[i]!];
    const t_s = after.start_s;
    const share = after.level_mA / before.level_mA;
    const isHeld = before.end_s - before.start_s >= HELD_S && after.end_s - after.start_s >= HELD_S;
    if (!isHeld || before.level_mA - after.level_mA < FALL_MA || share > FALL_SHARE || after.level_mA < -FALL_MA)
      continue;
    const facts = { at_s: t_s, from_mA: before.level_mA, to_mA: after.level_mA };
    const words = `At ${clock(t_s)} the reading fell from ${current(before.level_mA)} to ${current(after.level_mA)}`;
    const ratio = heightRatioAcross(findings.wakeups, t_s);
    const next =
      'Run the computer on its own battery, or put a USB isolator between, let nothing of it touch the chassis, and record again.';
    if (ratio !== null && ratio < 0.8) {
      return warning(
        'ground-loop',
        `${words}, and its wake-ups with it, to ${Math.round(ratio * 100)} %: a parallel ground path carries the rest, as when the charger of a laptop is plugged in.`,
        next,
        { ...facts, ratio_pct: ratio * 100 },
      );
    }
    if (ratio !== null || (after.level_mA >= LOW_MA && t_s < HALF_AWAKE_S)) continue;
    return warning(
      'fell-low',
      `${words}: either a load went off, or a parallel ground path opened (the charger of a laptop plugged in, the bridge put back).`,
      `Ask whether anybody was at the car or the computer then. ${next}`,
      facts,
    );
  }
  return null;
};
