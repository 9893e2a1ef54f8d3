// The example nights: recorded from the real image through the real port, they
// must show the modelled car that they were recorded from.
import { readdirSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { analyse } from '../../host/analysis/night/analyse.ts';
import { DEFAULT_OPTIONS } from '../../host/contract/settings.ts';
import { openTrace } from '../../host/night/open.ts';
import { Car } from '../../host/emulator/car/car.ts';
import { getScenario } from '../../host/emulator/car/scenarios.ts';
import { truthOf } from '../../host/emulator/car/truth.ts';
import { seededRandom } from '../../host/emulator/random.ts';

const folder = new URL('../../captures', import.meta.url).pathname;
const names = readdirSync(folder).filter((name) => name.endsWith('.nightdraw'));

/** The board boots some milliseconds after the car's time 0, and its oscillator is off by a fraction of this. */
const TIME_S = 0.5;

describe('example nights', () => {
  test('there are two or more, of 8 to 10 hours', () => {
    expect(names.length).toBeGreaterThanOrEqual(2);
  });

  for (const name of names) {
    test(`${name} shows the car that it was recorded from`, async () => {
      const { trace, info } = await openTrace(join(folder, name));
      const { scenario: scenarioName, seed } = info!.origin as { scenario: string; seed: number };
      const car = new Car(getScenario(scenarioName)!.car, seededRandom(seed));
      const findings = analyse(trace, DEFAULT_OPTIONS);
      const truth = truthOf(car, 0, findings.trace.duration_s);

      expect(findings.trace.duration_s / 3600).toBeGreaterThanOrEqual(8);
      expect(findings.trace.duration_s / 3600).toBeLessThanOrEqual(10);
      expect(info!.badLineCount).toBe(0);
      expect(trace.gaps).toEqual([]);

      const close = (got: number, want: number, by: number, what: string) =>
        expect(Math.abs(got - want), `${what}: ${got}, true ${want}`).toBeLessThanOrEqual(by);
      expect(findings.steps).toHaveLength(truth.steps.length);
      for (const [i, step] of truth.steps.entries()) {
        close(findings.steps[i]!.t_s, step.t_s, TIME_S, `time of step ${i}`);
        close(findings.steps[i]!.to_mA, step.to_mA, Math.max(0.5, 0.01 * step.to_mA), `level after step ${i}`);
      }
      expect(findings.wakeups).toHaveLength(truth.wakeups.length);
      for (const [i, wake] of truth.wakeups.entries()) {
        close(findings.wakeups[i]!.start_s, wake.start_s, TIME_S, `start of wake-up ${i}`);
        close(findings.wakeups[i]!.charge_mAh, wake.charge_mAh, 0.03 * wake.charge_mAh, `charge of wake-up ${i}`);
      }
      close(findings.asleep!.after_s, truth.asleep!.after_s, 5, 'asleep after');
      close(findings.asleep!.level_mA, truth.asleep!.level_mA, 0.5, 'asleep level');
      close(findings.charge.total_mAh, truth.total_mAh, 0.001 * truth.total_mAh, 'total charge');
    });
  }
});
