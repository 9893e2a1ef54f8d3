// Polling in words: pulses that repeat all the time and belong to their level, told once.

import type { Family } from '../contract/findings.ts';
import { charge, count, time } from './quantities.ts';

/** The families whose members are wake-ups: those that are listed one by one. */
export const ofWakeUps = (families: readonly Family[]): Family[] => families.filter(({ polling }) => !polling);

/** Most kinds that are told; the costliest first. */
const TOLD_MAX = 3;

/** `Polling: 13 700 pulses every 2.1 s` and `100 ms and 0.6 µAh each, 8.2 mAh in all, part of the level`. */
export interface PollingWords {
  title: string;
  more: string;
}

/** The polling of a night in words, the costliest first, three kinds at most. O(families log families). */
export function pollingWords(families: readonly Family[]): PollingWords[] {
  const whole_mAh = (family: Family) => family.count * family.charge_mAh;
  return families
    .filter(({ polling }) => polling)
    .sort((a, b) => whole_mAh(b) - whole_mAh(a))
    .slice(0, TOLD_MAX)
    .map((family) => ({
      title: `Polling: ${count(family.count)} pulses${family.period_s === null ? '' : ` every ${time(family.period_s)}`}`,
      more: `${time(family.duration_s)} and ${charge(family.charge_mAh)} each, ${charge(whole_mAh(family))} in all, part of the level`,
    }));
}
