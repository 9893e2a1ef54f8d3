// Trace widths, warmth, fuse before trace, distances and sense nets: formulas against what others have
// published, and each rule against a board that breaks it.
import { describe, expect, test } from 'vitest';
import { BOARD } from '../../../firmware/circuit/board.ts';
import { carries_A, checkAll } from '../../../firmware/circuit/checks.ts';
import {
  IPC_2221_MOST,
  MELTS_C,
  carriedBy_A,
  checkSense,
  checkTraces,
  distances,
  riseOf_K,
  sharedCopper,
  warming_A2s,
  widthFor_mm,
} from '../../../firmware/circuit/copper.ts';
import { MODULES_CIRCUIT } from '../../../firmware/circuit/modules.ts';
import type { Circuit, Net, Part } from '../../../firmware/circuit/shape.ts';

const withNet = (name: string, change: Partial<Net>): Circuit => ({
  ...BOARD,
  nets: BOARD.nets.map((net) => (net.name === name ? { ...net, ...change } : net)),
});

describe('IPC-2221', () => {
  test('10 A, 10 K, outside, one ounce: 7.2 mm', () => {
    // By the formula as printed beside the calculator of a maker of radio chips (qorvo.com, "PCB trace power
    // handling"): A = (10 / (0.048 x 10^0.44))^(1/0.725) = 390 mil²; 390 / 1.378 = 283 mil = 7.19 mm.
    expect(widthFor_mm(10, 10, 35)).toBeCloseTo(7.19, 1);
  });

  test('width, current and warmth are one formula, and the one that checks the nets', () => {
    expect(carriedBy_A(widthFor_mm(3, 20), 20)).toBeCloseTo(3, 9);
    expect(riseOf_K(3, widthFor_mm(3, 20))).toBeCloseTo(20, 9);
    expect(carriedBy_A(0.5, 20)).toBeCloseTo(carries_A({ trace_mm: 0.5 }), 9);
  });

  test('30 A are beyond what it is good for in 35 µm, so that they stay off the board', () => {
    expect(widthFor_mm(30, 20)).toBeGreaterThan(IPC_2221_MOST.width_mm);
    const thick = BOARD.nets.filter((net) => net.current_A >= 30);
    expect(thick.map((net) => net.name)).toEqual(['BATTERY_MINUS', 'SHUNT_BATTERY', 'CAR']);
    expect(thick.every((net) => 'lead_mm2' in net.carrier)).toBe(true);
  });
});

describe("Onderdonk's equation", () => {
  test.each([
    [10, 2.6],
    [50, 12.8],
    [100, 25.7],
  ])(
    '%d mil of one ounce melt in a second at %d A (table of pcbinsider.com, "Fusing current calculator")',
    (mil, A) => {
      const fusing_A = Math.sqrt(warming_A2s(mil * 0.0254, MELTS_C, 25, 0.0254 * 1378));
      expect(Math.abs(fusing_A / A - 1)).toBeLessThan(0.02);
    },
  );

  test('a wire of 2581 circular mils, 5 s: 178 A (worked example, physicsforums.com, thread 364495)', () => {
    // It takes 234 - 25 where the equation has 234 + 25: 178 A x √(log10(1 + 1058/259) / log10(1 + 1058/209)).
    const there_A = 178 * Math.sqrt(Math.log10(1 + 1058 / 259) / Math.log10(1 + 1058 / 209));
    const area_mm2 = 2581 * (Math.PI / 4) * 0.0254 ** 2;
    const ours_A = Math.sqrt(warming_A2s(area_mm2 / 0.035, MELTS_C, 25) / 5);
    expect(Math.abs(ours_A / there_A - 1)).toBeLessThan(0.01);
  });

  test('up to 130 °C it is what cable makers take, 0.0297 log10((T + 234) / (T0 + 234)), within 3 %', () => {
    // ICEA P-32-382 for copper (quoted in sci.electronics.design, 18 July 2013).
    const area_cmil = ((0.3 * 0.035) / 0.0254 ** 2) * (4 / Math.PI);
    const cable_A2s = area_cmil ** 2 * 0.0297 * Math.log10((130 + 234) / (40 + 234));
    expect(Math.abs(warming_A2s(0.3, 130) / cable_A2s - 1)).toBeLessThan(0.03);
  });
});

describe('the rules', () => {
  test('hold for the board and for the second way', () => {
    for (const circuit of [BOARD, MODULES_CIRCUIT])
      expect([...checkTraces(circuit), ...checkSense(circuit)]).toEqual([]);
    const thin = withNet('GND', { carrier: { trace_mm: 0.2 } });
    expect(checkAll(thin)).toEqual(expect.arrayContaining(checkTraces(thin)));
  });

  test('a trace too thin for its fuse is found, by what it lets through and by what it holds', () => {
    expect(checkTraces(withNet('GND', { carrier: { trace_mm: 0.2 } }))).toEqual([
      expect.stringMatching(/^GND bears 0\.\d+ A²s, and F5 lets 1\.8 A²s through$/),
      expect.stringMatching(/^GND gets \d+ K warmer before F5 opens$/),
    ]);
  });

  test('whatever else sits on a sense net is found', () => {
    const on = (ref: string, pin: string, net: string): Circuit => ({
      ...BOARD,
      parts: BOARD.parts.map((part): Part => (part.ref === ref ? { ...part, on: { ...part.on, [pin]: net } } : part)),
    });
    expect(checkSense(on('C2', '2', 'SENSE_CAR'))).toEqual([
      'C2 is on SENSE_CAR, which is for sensing alone',
      'SENSE_CAR joins 3 pins, not two',
    ]);
    expect(checkSense(on('R1', '4', 'SENSE_BATTERY'))).toEqual([
      'SENSE_BATTERY joins 3 pins, not two',
      'SENSE_CAR joins 1 pins, not two',
    ]);
  });

  test('a millimetre of shared copper, 10 mm wide, is 1 % of the shunt', () => {
    // 1.72e-8 Ωm x 1 mm / (10 mm x 35 µm) = 49 µΩ.
    expect(sharedCopper(1, 10)).toBeCloseTo(49.1e-6 / 5e-3, 4);
  });

  test('distances follow the table, and none is made up beyond it', () => {
    expect([35, 150, 151, 500].map((volts) => distances(volts).bare_mm)).toEqual([0.64, 0.64, 1.27, 2.54]);
    expect([35, 101, 500].map((volts) => distances(volts).covered_mm)).toEqual([0.13, 0.38, 0.75]);
    expect(() => distances(501)).toThrow(RangeError);
  });
});
