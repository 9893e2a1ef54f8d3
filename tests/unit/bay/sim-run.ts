// One simulated bay from a seed: a car, a technician, a session; and what pulling fuse by
// fuse would have taken on the same car.
import { HeldSession } from './held-session.ts';
import { SimCar } from './sim-car.ts';
import { inOrder_s, SimHand } from './sim-hand.ts';
import type { SimResult } from './sim-hand.ts';

/** Three in a hundred pulls go wrong: another fuse, a tap too early, a double tap. */
export const WRONG_SHARE = 0.03;
const LIMIT_s = 6 * 3600;

export interface BayRun {
  seed: number;
  fuses: number;
  result: SimResult;
  /** Every fault named, and nothing else. */
  right: boolean;
  inOrder_s: number;
  leavingOut_s: number;
}

/**
 * Trees of 20 to 90 fuses on up to three levels, one to three faults: all from the seed.
 * @param begin the session that is told of it
 */
export function runBay(seed: number, begin: (tree: string) => HeldSession = (tree) => HeldSession.start(tree)): BayRun {
  const car = new SimCar(seed, {
    fuses: { least: 20, most: 90 },
    levels: 3,
    faults: 1 + (seed % 3),
    unrest: 1,
    partsMost: 3,
  });
  const inOrder = inOrder_s(car, false);
  const leavingOut = inOrder_s(car, true);
  const faulty = car.parts.filter((part) => part.faulty).map((part) => part.name);
  const session = begin(car.csv());
  const result = new SimHand(car, session, { wrong: WRONG_SHARE, limit_s: LIMIT_s }).run();
  const right = result.accused.length === 0 && faulty.every((name) => result.named.includes(name));
  return {
    seed,
    fuses: car.all.length - car.parts.length,
    result,
    right,
    inOrder_s: inOrder,
    leavingOut_s: leavingOut,
  };
}
