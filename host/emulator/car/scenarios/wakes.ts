// Scenario: a car that sleeps well and is woken all night. Invented.
// 48 s at 1.9 A every 34 min are 1900 x 48 / 2040 = 44.7 mA on average, over 19 mA asleep.
import type { Scenario } from '../spec.ts';

export const wakes: Scenario = {
  name: 'wakes',
  summary: 'asleep at 19 mA, but the telematics wake up every 34 min for 48 s at about 1.9 A',
  length_s: 10 * 3600,
  seed: 2040,
  car: {
    lock_s: 30,
    modules: [
      {
        name: 'body control',
        awake: [
          { untilAfterLock_s: 60, mA: 410 },
          { untilAfterLock_s: 780, mA: 130 },
        ],
        asleep_mA: 2.4,
        timerJitter_s: 4,
      },
      { name: 'instrument cluster', awake: [{ untilAfterLock_s: 120, mA: 390 }], asleep_mA: 0.8, timerJitter_s: 3 },
      { name: 'climate control', awake: [{ untilAfterLock_s: 500, mA: 150 }], asleep_mA: 1.5, timerJitter_s: 6 },
      { name: 'gateway', awake: [{ untilAfterLock_s: 1400, mA: 240 }], asleep_mA: 2.6, timerJitter_s: 8 },
      { name: 'radio amplifier', awake: [{ untilAfterLock_s: 240, mA: 320 }], asleep_mA: 0.4, timerJitter_s: 5 },
      {
        name: 'telematics',
        awake: [{ untilAfterLock_s: 1100, mA: 90 }],
        asleep_mA: 3.9,
        timerJitter_s: 10,
        wakes: [
          {
            when: 'every',
            first_s: 2300,
            period_s: 2040,
            jitter_s: 12,
            stages: [
              { duration_s: 5, rise_mA: 1250 },
              { duration_s: 31, rise_mA: 2150 },
              { duration_s: 12, rise_mA: 1525 },
            ],
            inrush: { peak_mA: 3400, tau_s: 0.03 },
          },
        ],
      },
      {
        name: 'leak test pump',
        awake: [],
        asleep_mA: 0.3,
        wakes: [
          {
            when: 'once',
            at_s: 18030,
            stages: [
              { duration_s: 40, rise_mA: 420 },
              { duration_s: 55, rise_mA: 780 },
            ],
            inrush: { peak_mA: 900, tau_s: 0.08 },
          },
        ],
      },
      {
        name: 'keyless receiver',
        awake: [],
        asleep_mA: 2.6,
        perDegree_mA: 0.02,
        trains: [{ from_s: 33, period_s: 0.3, on_s: 0.01, mA: 21 }],
      },
      { name: 'alarm', awake: [], asleep_mA: 2.9, trains: [{ from_s: 34, period_s: 2.1, on_s: 0.1, mA: 22 }] },
    ],
    battery: { capacity_Ah: 70, rested_V: 12.62, fall_V: 0.95, surface_V: 0.18, surfaceTau_s: 3000, internal_mOhm: 8 },
    climate: { start_C: 19, end_C: 6, tau_s: 10800, swing_C: 0.6, swingPeriod_s: 6100 },
  },
};
