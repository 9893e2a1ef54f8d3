// Scenario: no car but a known staircase within a minute and a half, with one pulse,
// to check levels and charge against. Each level is held for longer than the 20 s
// that the analysis asks for. Nothing in it is random, drifts or blinks.
import type { Scenario } from '../spec.ts';

export const bench: Scenario = {
  name: 'bench',
  summary: 'a known staircase within 90 s: 640, 180 and 24 mA, and a pulse of 0.4 s near the end',
  length_s: 90,
  seed: 1,
  car: {
    lock_s: 0,
    modules: [
      {
        name: 'staircase',
        awake: [
          { untilAfterLock_s: 25, mA: 640 },
          { untilAfterLock_s: 50, mA: 180 },
        ],
        asleep_mA: 24,
        wakes: [
          {
            when: 'once',
            at_s: 75,
            stages: [{ duration_s: 0.4, rise_mA: 900 }],
            inrush: { peak_mA: 2500, tau_s: 0.01 },
          },
        ],
      },
    ],
    battery: { capacity_Ah: 60, rested_V: 12.6, fall_V: 0.9, surface_V: 0, surfaceTau_s: 3600, internal_mOhm: 10 },
    climate: { start_C: 20, end_C: 20, tau_s: 3600, swing_C: 0, swingPeriod_s: 3600 },
  },
};
