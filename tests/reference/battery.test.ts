// What is published of batteries, allowances and normal wake-ups, against our formulas.
// Each source stands beside its check; what is from memory or second-hand says so.

import { describe, expect, test } from 'vitest';
import { allowanceFromReserve_mA, allowanceOf } from '../../host/analysis/meaning/allowance.ts';
import { batteryOf, complaintOf } from '../../host/analysis/meaning/battery.ts';
import { CAUSES } from '../../host/analysis/meaning/causes.ts';
import {
  capacityByPower_Ah,
  capacityByRule_Ah,
  capacityFactor,
  chargeFromVoltage_pct,
  daysUntilNoCrank,
  reserveFromCapacity_min,
  reserveFromMemory_min,
  selfDischarge_perDay,
  USABLE_SHARE,
  USABLE_SHARE_TYPICAL,
} from '../../host/analysis/meaning/lead-acid.ts';
import type { BatteryTold } from '../../host/contract/meaning.ts';

const UNTOLD: BatteryTold = {
  type: null,
  capacity_Ah: null,
  reserve_min: null,
  before_V: null,
  after_V: null,
  temperature_C: null,
};

describe('allowance', () => {
  test('RC 100 allows 25 mA: reserve minutes / 4 (GM service manual 2001, "Parasitic load test")', () => {
    expect(allowanceFromReserve_mA(100)).toBe(25);
    expect(allowanceOf({ allow_mA: 'reserve', source: null, settle_min: 30 }, 100)).toMatchObject({
      mA: 25,
      basis: 'reserve',
      source: 'reserve capacity 100 min / 4',
    });
  });

  test("50 mA where nobody says (common practice, no source), and a maker's figure with its document", () => {
    expect(allowanceOf({ allow_mA: null, source: null, settle_min: 30 }, null)).toMatchObject({
      mA: 50,
      basis: 'usual',
    });
    // 35 mA: autoshop101.com training modules 117/118, second-hand.
    expect(allowanceOf({ allow_mA: 35, source: 'training module 117', settle_min: 30 }, null)).toMatchObject({
      mA: 35,
      basis: 'maker',
      source: 'training module 117',
    });
    expect(() => allowanceOf({ allow_mA: 'reserve', source: null, settle_min: 30 }, null)).toThrow(
      /reserve capacity in minutes/,
    );
  });
});

describe('state of charge from rested voltage', () => {
  test.each([
    [12.6, 100],
    [12.4, 75],
    [12.2, 50],
    [12.0, 25],
  ])('flooded %f V is %i %% (autobatteries.com, "voltage" basics, at 80 °F)', (V, pct) => {
    expect(chargeFromVoltage_pct('flooded', V)).toBeCloseTo(pct, 9);
  });

  test.each([
    [12.8, 100],
    [12.6, 75],
    [12.3, 50],
    [12.0, 25],
  ])('AGM %f V is %i %% (Polaris service publication)', (V, pct) => {
    expect(chargeFromVoltage_pct('agm', V)).toBeCloseTo(pct, 9);
  });

  test("flooded 11.6 V is 0 % (a mailing list's table: weak); beyond the ends 0 and 100; between the rows straight", () => {
    expect(chargeFromVoltage_pct('flooded', 11.6)).toBe(0);
    expect(chargeFromVoltage_pct('flooded', 11)).toBe(0);
    expect(chargeFromVoltage_pct('flooded', 13)).toBe(100);
    expect(chargeFromVoltage_pct('agm', 12.8001)).toBe(100);
    expect(chargeFromVoltage_pct('flooded', 12.3)).toBeCloseTo(62.5, 9);
  });
});

describe('reserve minutes and capacity', () => {
  test('55 Ah: 90 min; 60 Ah: 99.9 min (centurionbattery.nl knowledge base, second-hand)', () => {
    expect(reserveFromCapacity_min(55)).toBeCloseTo(90, 0);
    expect(reserveFromCapacity_min(60)).toBeCloseTo(99.9, 1);
    expect(capacityByPower_Ah(reserveFromCapacity_min(72))).toBeCloseTo(72, 9);
  });

  test('RC 100 is 60 Ah: Ah is about 0.6 x RC (GM information bulletin, second-hand)', () => {
    expect(capacityByRule_Ah(100)).toBeCloseTo(60, 9);
    expect(capacityByPower_Ah(100)).toBeCloseTo(60, 0);
  });

  test('the exponents of EN 50342-1, from memory, agree within 3 % from 40 to 100 Ah', () => {
    for (let Ah = 40; Ah <= 100; Ah += 10)
      expect(reserveFromMemory_min(Ah) / reserveFromCapacity_min(Ah)).toBeCloseTo(1, 1);
    for (let Ah = 40; Ah <= 100; Ah += 10)
      expect(Math.abs(reserveFromMemory_min(Ah) / reserveFromCapacity_min(Ah) - 1)).toBeLessThan(0.03);
  });
});

describe('what time and temperature do', () => {
  test('0.5 % a day at 20 °C, doubling for each 10 °C (marshallbatteries.co.nz FAQ)', () => {
    expect(selfDischarge_perDay(20)).toBe(0.005);
    expect(selfDischarge_perDay(30)).toBe(0.01);
    expect(selfDischarge_perDay(40)).toBe(0.02);
    expect(selfDischarge_perDay(10)).toBe(0.0025);
  });

  test('capacity changes 0.6 % per °C (velapower.com support, second-hand)', () => {
    expect(capacityFactor(25)).toBe(1);
    expect(capacityFactor(15)).toBeCloseTo(0.94, 9);
    expect(capacityFactor(-5)).toBeCloseTo(0.82, 9);
  });

  test('RC 100 = 60 Ah = 24 Ah to no-start = 40 days at 25 mA (computed from GM bulletin rows; no self-discharge, 25 °C)', () => {
    const capacity_Ah = capacityByRule_Ah(100);
    expect(capacity_Ah * USABLE_SHARE_TYPICAL).toBeCloseTo(24, 9);
    const parked = {
      capacity_Ah,
      usable_share: USABLE_SHARE_TYPICAL,
      charge_share: 1,
      temperature_C: 25,
      draw_mA: 25,
      once_mAh: 0,
      selfDischarge: false,
    };
    expect(daysUntilNoCrank(parked)).toBeCloseTo(40, 9);
    // At 20 °C a battery alone loses 60 x 0.005 = 0.3 Ah a day and holds 3 % less: 23.28 Ah / 0.3 Ah = 77.6 days.
    expect(daysUntilNoCrank({ ...parked, draw_mA: 0, temperature_C: 20, selfDischarge: true })).toBeCloseTo(
      (60 * 0.97 * 0.4) / 0.3,
      9,
    );
    expect(daysUntilNoCrank({ ...parked, draw_mA: 0 })).toBeNull();
    expect(daysUntilNoCrank({ ...parked, charge_share: 0.5 })).toBe(0);
  });

  test("an engine may not start below about 60 % of charge (newspaper column 2005); a small AGM needs 30 % (a maker's page); both second-hand", () => {
    expect(1 - USABLE_SHARE_TYPICAL).toBeCloseTo(0.6, 9);
    expect(USABLE_SHARE.flooded.low).toBeLessThan(USABLE_SHARE_TYPICAL);
    expect(USABLE_SHARE.flooded.high).toBeGreaterThan(USABLE_SHARE_TYPICAL);
    expect(1 - USABLE_SHARE.agm.high).toBeCloseTo(0.3, 9);
  });

  test('the published example lies within the range that is told for it, and the range is no single number', () => {
    const told = { ...UNTOLD, type: 'flooded' as const, reserve_min: 100, temperature_C: 25 };
    const { days, capacity_Ah, sentence } = batteryOf(told, null, {
      asleep_mA: 25,
      going_to_sleep_mAh: 0,
      rested: true,
    });
    expect(capacity_Ah.high).toBeGreaterThanOrEqual(60);
    // 40 days without, 24 Ah / (0.6 + 0.42) Ah = 23 days with self-discharge at 25 °C.
    expect(days!.low).toBeLessThan(23.5);
    expect(days!.high).toBeGreaterThan(23.5);
    expect(days!.high / days!.low).toBeGreaterThan(2);
    expect(sentence).toMatch(/after \d+ to \d+ days/);
  });
});

describe('ranges move the way they must', () => {
  const of = (told: Partial<BatteryTold>, asleep_mA: number) =>
    batteryOf({ ...UNTOLD, type: 'flooded', capacity_Ah: 60, temperature_C: 15, ...told }, null, {
      asleep_mA,
      going_to_sleep_mAh: 200,
      rested: true,
    }).days!;

  test('more draw, less capacity, less charge, more heat: fewer days', () => {
    for (const end of ['low', 'high'] as const) {
      expect(of({}, 80)[end]).toBeLessThan(of({}, 40)[end]);
      expect(of({ capacity_Ah: 40 }, 40)[end]).toBeLessThan(of({}, 40)[end]);
      expect(of({ before_V: 12.45 }, 40)[end]).toBeLessThan(of({ before_V: 12.65 }, 40)[end]);
      expect(of({ temperature_C: 40 }, 40)[end]).toBeLessThan(of({ temperature_C: 20 }, 40)[end]);
    }
  });

  test('the complaint goes from not at all to explained as the days go on', () => {
    const battery = batteryOf({ ...UNTOLD, type: 'flooded', capacity_Ah: 60, temperature_C: 15 }, null, {
      asleep_mA: 40,
      going_to_sleep_mAh: 200,
      rested: true,
    });
    const order = ['does-not-explain', 'only-low-or-worn', 'may-explain', 'explains'];
    const codes = Array.from({ length: 60 }, (_, N) => order.indexOf(complaintOf(N + 1, battery).code));
    expect([...codes].sort((a, b) => a - b)).toEqual(codes);
    expect(new Set(codes).size).toBe(4);
  });
});

describe('normal causes', () => {
  const cause = (code: string) => CAUSES.find((c) => c.code === code)!;
  const within = ([low, high]: readonly [number, number], ...values: number[]) =>
    values.every((value) => value >= low && value <= high);

  test('each published figure lies within its feature', () => {
    // GM service manual 2001: 80 to 240 mA for about 45 s every 9 to 10 min.
    const registration = cause('telematics-registration');
    expect(
      within(registration.period_s!, 540, 600) &&
        within(registration.length_s!, 45) &&
        within(registration.height_mA!, 80, 240),
    ).toBe(true);
    // A carmaker's service manual, 2010: spikes to 80 mA; keyless spikes of 100 mA; leak test at key-off about 1 A up
    // to 45 min; climate control 50 mA or less up to 3 h.
    expect(within(cause('telematics-standby').peak_mA!, 80)).toBe(true);
    expect(within(cause('keyless-receiver').peak_mA!, 100)).toBe(true);
    expect(
      within(cause('leak-test-vacuum').height_mA!, 1000) && within(cause('leak-test-vacuum').length_s!, 2700),
    ).toBe(true);
    expect(
      within(cause('climate-half-awake').height_mA!, 50) && within(cause('climate-half-awake').when_s![0]!, 10_800),
    ).toBe(true);
    // A carmaker's repair manual, 2006: 5 h, with a hot engine 7 h and then 9.5 h.
    expect([5, 7, 9.5].every((h, i) => within(cause('leak-test-pump').when_s![i]!, h * 3600))).toBe(true);
    // A carmaker's workshop system, closed-circuit current measurement: consumers off at 8 min; cluster at 30 to 40 and
    // 70 to 80 min; steps at 16 and 60 min.
    expect(within(cause('consumer-shutdown').when_s![0]!, 480)).toBe(true);
    expect(
      within(cause('cluster-time-out').when_s![0]!, 1800, 2400) &&
        within(cause('cluster-time-out').when_s![1]!, 4200, 4800),
    ).toBe(true);
    expect(within(cause('late-step').when_s![0]!, 960) && within(cause('late-step').when_s![1]!, 3600)).toBe(true);
  });
});
