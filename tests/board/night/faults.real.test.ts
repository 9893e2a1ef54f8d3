// A seeded night of faults, on the real `record` command against the emulated board:
// short here, whole in the soak. NIGHTDRAW_SEED replays one.
import { describe, expect, test } from 'vitest';
import { seededRandom } from '../../../host/emulator/random.ts';
import { seedOf } from '../../seeds.ts';
import { runFaults } from './fault-run.ts';
import type { Fault } from './fault-run.ts';

const SOAK = process.env['NIGHTDRAW_SOAK'] === '1';
const SEED = seedOf(20310504);

const COUNTS: Record<Fault, number> = SOAK
  ? { kill: 100, pull: 100, reset: 20, power: 10, clock: 20 }
  : { kill: 3, pull: 2, reset: 1, power: 1, clock: 2 };

/** All faults, in an order that the seed gives. */
function shuffled(seed: number): Fault[] {
  const random = seededRandom(seed);
  const all = Object.entries(COUNTS).flatMap(([fault, count]) => Array.from({ length: count }, () => fault as Fault));
  for (let i = all.length - 1; i > 0; i--) {
    const j = Math.floor(random() * (i + 1));
    [all[i], all[j]] = [all[j]!, all[i]!];
  }
  return all;
}

describe('a night of faults', () => {
  test(`seed ${SEED}: nothing acknowledged is lost, nothing invented, the charge is right`, async () => {
    const faults = shuffled(SEED);
    const report = await runFaults({ faults, seed: SEED, damage: 0.1 });
    console.log(
      `fault run, seed ${SEED}: ${faults.length} faults, ${report.last.windows} windows kept, ${report.last.lost} not, ${report.last.gaps} gaps, ` +
        `charge within ${(report.last.chargeError * 100).toFixed(4)} %, damaged lines: ${JSON.stringify(report.damages)}`,
    );
    expect(report.last.windows).toBeGreaterThan(100);
    // After a kill the board may still have all that was missed, and is asked for it; not after it began anew.
    expect(report.last.gaps).toBeGreaterThanOrEqual(COUNTS.reset + COUNTS.power);
    expect(report.printed).toMatch(/recorded, resumed/);
    expect(report.left).toEqual(['clock', 'night', 'port']);
  });
});
