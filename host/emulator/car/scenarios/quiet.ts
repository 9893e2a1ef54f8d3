// Scenario: a healthy car, with the blinking and polling that belong to it. Invented.
import type { Scenario } from '../spec.ts';

export const quiet: Scenario = {
  name: 'quiet',
  summary: 'a healthy car: asleep after about 16 min, within the allowance all night',
  length_s: 8 * 3600,
  seed: 316,
  car: {
    lock_s: 40,
    modules: [
      {
        name: 'body control',
        awake: [
          { untilAfterLock_s: 50, mA: 360 },
          { untilAfterLock_s: 600, mA: 110 },
        ],
        asleep_mA: 2.1,
        timerJitter_s: 4,
      },
      { name: 'instrument cluster', awake: [{ untilAfterLock_s: 100, mA: 350 }], asleep_mA: 0.7, timerJitter_s: 2 },
      { name: 'gateway', awake: [{ untilAfterLock_s: 940, mA: 190 }], asleep_mA: 2.2, timerJitter_s: 6 },
      { name: 'radio amplifier', awake: [{ untilAfterLock_s: 180, mA: 280 }], asleep_mA: 0.3, timerJitter_s: 3 },
      { name: 'tailgate latch', awake: [{ untilAfterLock_s: 300, mA: 60 }], asleep_mA: 0.2, timerJitter_s: 3 },
      { name: 'telematics', awake: [{ untilAfterLock_s: 800, mA: 80 }], asleep_mA: 3.1, timerJitter_s: 5 },
      {
        name: 'keyless receiver',
        awake: [],
        asleep_mA: 2.2,
        perDegree_mA: 0.03,
        trains: [{ from_s: 42, period_s: 0.27, on_s: 0.012, mA: 17 }],
      },
      { name: 'alarm', awake: [], asleep_mA: 1.6, trains: [{ from_s: 43, period_s: 2.1, on_s: 0.1, mA: 25 }] },
    ],
    battery: { capacity_Ah: 60, rested_V: 12.65, fall_V: 0.95, surface_V: 0.2, surfaceTau_s: 2400, internal_mOhm: 8 },
    climate: { start_C: 16, end_C: 11, tau_s: 8000, swing_C: 0.4, swingPeriod_s: 5600 },
  },
};
