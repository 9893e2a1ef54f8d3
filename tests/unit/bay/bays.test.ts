// Simulated bays: seeded cars, a technician who errs at times, and a session that must
// name the right parts, accuse none falsely, and be quicker than pulling in order.
// Twenty of them here, 500 with NIGHTDRAW_SOAK=1.
import { expect, test } from 'vitest';
import { runBay } from './sim-run.ts';

const [FIRST, COUNT] = process.env['NIGHTDRAW_SOAK'] === '1' ? [1, 500] : [11, 20];
/** Of twenty, 98 % is all of them. */
const RIGHT_SHARE = 0.98;
const TIME_SHARE_MAX = 0.6;

test(`${COUNT} simulated bays: the right parts, none accused falsely, in at most 60 % of the time`, () => {
  const runs = Array.from({ length: COUNT }, (_, i) => runBay(FIRST + i));
  const wrong = runs
    .filter((run) => !run.right)
    .map((run) => `seed ${run.seed}: ${run.result.outcome}, named ${run.result.named.join(', ')}`);
  expect(runs.filter((run) => run.result.accused.length > 0).map((run) => run.seed)).toEqual([]);
  expect(runs.filter((run) => !run.right && run.result.outcome !== 'undecided').map((run) => run.seed)).toEqual([]);
  expect(wrong.length, wrong.join('\n')).toBeLessThanOrEqual(Math.round((1 - RIGHT_SHARE) * COUNT));
  const sum = (value: (run: (typeof runs)[number]) => number) => runs.reduce((total, run) => total + value(run), 0);
  const time_s = sum((run) => run.result.time_s);
  const share = time_s / sum((run) => run.inOrder_s);
  // The harder comparison: somebody who leaves every fuse out and never lets the car settle again.
  const leaving = time_s / sum((run) => run.leavingOut_s);
  console.log(
    `${COUNT} bays: ${COUNT - wrong.length} right, mean ${(time_s / COUNT / 60).toFixed(1)} min, ${(share * 100).toFixed(0)} % of pulling and refitting in order, ${(leaving * 100).toFixed(0)} % of pulling in order and leaving out`,
  );
  expect(share).toBeLessThanOrEqual(TIME_SHARE_MAX);
  expect(leaving).toBeLessThanOrEqual(TIME_SHARE_MAX);
});
