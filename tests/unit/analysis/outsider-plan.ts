// What a seed makes of an outsider's night: its kind, sampling, noise and gaps.
import { chance } from './outsider-chance.ts';
import { LOADS, NIGHT_KINDS, SAMPLINGS } from './outsider.ts';
import type { Plan } from './outsider.ts';

/** The same seed, the same night. */
export function planOf(seed: number): Plan {
  const random = chance(seed * 31);
  const pick = <T>(from: readonly T[]) => from[Math.floor(random() * from.length)]!;
  const kind = pick(NIGHT_KINDS);
  const sampling = pick(SAMPLINGS);
  // 0.05 to 3 mA; a step of 5 mA cannot be timed in more than 1.
  const noise_mA = Math.min(0.05 * 60 ** random(), kind === 'small' ? 1 : 3);
  return {
    seed,
    kind,
    sampling,
    load: pick(LOADS),
    noise_mA,
    memory: random() < 0.25 ? 0.5 : 0,
    perLoad: random() < 0.25 ? 0.002 : 0,
    code_mA: random() < 0.25 ? 1 : 0,
    drift_mA: random() < 0.3 ? 3 * random() : 0,
    gaps: random() < 0.3,
  };
}
