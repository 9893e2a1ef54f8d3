// Scenario: a car that goes to sleep in stairs, but for one module that never does.
// Invented; the times of the stairs follow the published ones in kind only.
import type { Scenario } from '../spec.ts';

export const steady: Scenario = {
  name: 'steady',
  summary: 'asleep after about 23 min, then steady well over 50 mA: the radio amplifier never sleeps',
  length_s: 9 * 3600,
  seed: 4711,
  car: {
    lock_s: 35,
    modules: [
      {
        name: 'body control',
        awake: [
          { untilAfterLock_s: 45, mA: 380 },
          { untilAfterLock_s: 720, mA: 120 },
        ],
        asleep_mA: 2.2,
        timerJitter_s: 4,
      },
      { name: 'instrument cluster', awake: [{ untilAfterLock_s: 90, mA: 430 }], asleep_mA: 0.9, timerJitter_s: 2 },
      { name: 'climate control', awake: [{ untilAfterLock_s: 480, mA: 160 }], asleep_mA: 1.6, timerJitter_s: 5 },
      { name: 'gateway', awake: [{ untilAfterLock_s: 1000, mA: 210 }], asleep_mA: 2.4, timerJitter_s: 6 },
      {
        name: 'radio amplifier',
        awake: [{ untilAfterLock_s: 300, mA: 340 }],
        asleep_mA: 96,
        timerJitter_s: 5,
        perDegree_mA: 0.06,
      },
      { name: 'telematics', awake: [{ untilAfterLock_s: 1370, mA: 85 }], asleep_mA: 4.6, timerJitter_s: 10 },
      {
        name: 'keyless receiver',
        awake: [],
        asleep_mA: 2.8,
        trains: [{ from_s: 40, period_s: 0.28, on_s: 0.012, mA: 19 }],
      },
      { name: 'alarm', awake: [], asleep_mA: 4.4, trains: [{ from_s: 41, period_s: 2.1, on_s: 0.1, mA: 25 }] },
    ],
    battery: { capacity_Ah: 62, rested_V: 12.58, fall_V: 0.9, surface_V: 0.22, surfaceTau_s: 2700, internal_mOhm: 9 },
    climate: { start_C: 24, end_C: 8, tau_s: 9000, swing_C: 0.5, swingPeriod_s: 7300 },
  },
};
