// The judging by itself: readings made by hand, each of them moved to both sides of its limit; and the limits,
// against the figures of firmware/BOARD.md's error budget.
import { describe, expect, test } from 'vitest';
import type { Hello } from '../../../host/contract/capture.ts';
import { next } from '../../../host/prove/judge.ts';
import { gainLimit, noiseLimit_mA, zeroLimit_mA } from '../../../host/prove/limits.ts';
import { MISTAKES } from '../../../host/prove/mistakes.ts';
import type { Listened, Proof } from '../../../host/prove/readings.ts';

const HELLO = { sensor: 'ina228', shunt_nOhm: 5_000_000, cal: 'none' } as Hello;
const CALIBRATED = { ...HELLO, cal: 'stored' };

const flows = (mean_mA: number, more: Partial<Listened> = {}): Listened => ({
  windows: 40,
  mean_mA,
  least_mA: mean_mA - 1.2,
  most_mA: mean_mA + 1.2,
  noise_mA: 0.4,
  wide: mean_mA > 7200 ? 40 : 0,
  missed: 0,
  bus_V: 12.5,
  chip_C: 25,
  ...more,
});

/** All questions answered, and nothing wrong. */
const SOUND: Proof = {
  told: { hello: HELLO, statuses: [], boots: 0, clock: { board_s: 60, host_s: 60, doubt_s: 0.004 } },
  listened: { rest: flows(0.1), series: flows(2250), one: flows(4400), both: flows(8500), moved: flows(4400) },
  meter: { series_A: 2.25, one_A: 4.4, both_A: 8.5, clamps_V: 12.51 },
  stored: true,
};
const having = (more: { told?: object; listened?: object; meter?: object }): Proof => ({
  ...SOUND,
  told: { ...SOUND.told, ...more.told },
  listened: { ...SOUND.listened, ...more.listened },
  meter: { ...SOUND.meter, ...more.meter },
});
const judged = (proof: Proof) => next(proof, 'ina228');
const ends = (mistake: keyof typeof MISTAKES) => ({ do: 'end', mistake });

describe('the limits follow the error budget', () => {
  test('at rest: 0.61 mA before calibration, 0.41 mA after; twice with half the shunt', () => {
    // 0.2 offset + 0.013 noise + 0.3 EMF + 0.04 drift + 0.057 input current.
    expect(zeroLimit_mA(HELLO)).toBeCloseTo(0.61, 2);
    expect(zeroLimit_mA(CALIBRATED)).toBeCloseTo(0.41, 2);
    expect(zeroLimit_mA({ ...HELLO, shunt_nOhm: 2_500_000 })).toBeCloseTo(2 * 0.61, 1);
  });

  test('gain: shunt 1 %, chip 0.05 %, its inputs 0.12 %, drifts 0.24 %, meter 1 %, and its last digit', () => {
    expect(gainLimit(HELLO, 5)).toBeCloseTo(0.01 + 0.0005 + 0.00124 + 0.0024 + 0.01 + 0.001, 4);
    // Calibrated by one meter and read by another: 1 % each.
    expect(gainLimit(CALIBRATED, 5)).toBeCloseTo(0.0024 + 0.02 + 0.001, 4);
    expect(noiseLimit_mA(HELLO)).toBeCloseTo(0.8, 6);
  });
});

describe('a board that is sound', () => {
  test('what it is within', () => {
    const end = judged(SOUND);
    expect(end).toMatchObject({ do: 'end', mistake: null });
    // (2250 - 0.1) / 2250, the largest of the three.
    expect(end).toHaveProperty('within.zero_mA', 0.1);
    expect((end as { within: { share: number } }).within.share).toBeCloseTo(0.1 / 2250, 8);
  });

  test('asked in the order of the work', () => {
    const bare: Proof = { ...SOUND, listened: {}, meter: {}, stored: null };
    const asked: unknown[] = [];
    let proof = bare;
    for (let now = judged(proof); now.do !== 'end'; now = judged(proof)) {
      asked.push(now.do === 'listen' ? now.step : now.do === 'read' ? now.meter : now.do);
      if (now.do === 'listen')
        proof = { ...proof, listened: { ...proof.listened, [now.step]: SOUND.listened[now.step] } };
      else if (now.do === 'read') proof = { ...proof, meter: { ...proof.meter, [now.meter]: SOUND.meter[now.meter] } };
      else proof = { ...proof, stored: true };
    }
    expect(asked).toEqual([
      'rest',
      'clamps_V',
      'series',
      'series_A',
      'one',
      'one_A',
      'both',
      'both_A',
      'moved',
      'store',
    ]);
  });
});

describe('on both sides of a limit', () => {
  const sound = { do: 'end', mistake: null };
  test.each<[string, Proof, object]>([
    ['zero within', having({ listened: { rest: flows(0.55) } }), sound],
    ['zero beyond', having({ listened: { rest: flows(-0.65) } }), ends('zero')],
    [
      'what the board draws',
      having({ listened: { rest: flows(20), series: flows(2270), one: flows(4420), both: flows(8520) } }),
      ends('ground-lead'),
    ],
    ['noise within', having({ listened: { rest: flows(0, { noise_mA: 0.75 }) } }), sound],
    ['noise beyond', having({ listened: { rest: flows(0, { noise_mA: 0.85 }) } }), ends('noise')],
    ['gain within', having({ listened: { series: flows(2300), one: flows(4495), both: flows(8680) } }), sound],
    [
      'gain beyond: asked for the shunt',
      having({ listened: { series: flows(2320) } }),
      { do: 'read', meter: 'shunt_mV' },
    ],
    [
      'more than the shunt has',
      having({ listened: { series: flows(2320) }, meter: { shunt_mV: 11.3 } }),
      ends('bolts'),
    ],
    [
      'less than the shunt has',
      having({ listened: { series: flows(2180) }, meter: { shunt_mV: 11.3 } }),
      ends('filter'),
    ],
    [
      'a shunt that is 3 % off',
      having({ listened: { series: flows(2180) }, meter: { shunt_mV: 10.9 } }),
      ends('shunt'),
    ],
    ['another shunt', having({ listened: { series: flows(1125) }, meter: { shunt_mV: 5.6 } }), ends('shunt')],
    ['the wide range reads 1 % less', having({ listened: { both: flows(8415) } }), ends('range')],
    ['the wide range does not come on', having({ listened: { both: flows(8500, { wide: 0 }) } }), ends('range')],
    ['a conversion was missed', having({ listened: { rest: flows(0, { missed: 1 }) } }), ends('pull-up-weak')],
    ['the clock within its doubt', having({ told: { clock: { board_s: 60.012, host_s: 60, doubt_s: 0.004 } } }), sound],
    [
      'the clock beyond',
      having({ told: { clock: { board_s: 60.014, host_s: 60, doubt_s: 0.004 } } }),
      { do: 'listen', step: 'clock' },
    ],
    [
      'the clock still beyond after a longer look',
      having({ told: { clock: { board_s: 100.025, host_s: 100, doubt_s: 0.004 } }, listened: { clock: flows(0) } }),
      ends('clock'),
    ],
    ['the clock not known for sure', having({ told: { clock: { board_s: 60.18, host_s: 60, doubt_s: 0.2 } } }), sound],
    [
      'warm: asked for the room',
      having({ listened: { rest: flows(0, { chip_C: 41 }) } }),
      { do: 'read', meter: 'room_C' },
    ],
    ['warm in a warm room', having({ listened: { rest: flows(0, { chip_C: 41 }) }, meter: { room_C: 30 } }), sound],
    [
      'warm in a cold one',
      having({ listened: { rest: flows(0, { chip_C: 41 }) }, meter: { room_C: 20 } }),
      ends('warm'),
    ],
    ['the voltage far off, its lead sound', having({ meter: { clamps_V: 12.8, voltageLead_mV: 18 } }), ends('voltage')],
    [
      'both bus wires pulled up, and held',
      having({
        told: { statuses: ['bus-stuck'] },
        listened: { rest: flows(0, { windows: 0 }) },
        meter: { sda_V: 5, scl_V: 5 },
      }),
      ends('bus-short'),
    ],
    ['silent, with 5 V', having({ told: { hello: null }, meter: { supply_V: 5 } }), ends('no-talk')],
    [
      'something else at the address',
      having({ told: { statuses: ['sensor-id'] }, listened: { rest: flows(0, { windows: 0 }) } }),
      ends('other-chip'),
    ],
  ])('%s', (_what, proof, expected) => expect(judged(proof)).toMatchObject(expected));
});

test('each mistake is told in two sentences at most, and with what to do', () => {
  for (const { likely, remedy } of Object.values(MISTAKES)) {
    expect(likely).toMatch(/^[A-Z].*\.$/);
    expect(remedy).toMatch(/^[A-Z].*\.$/);
  }
});
