// Blocks keep every bit of what was put in, refuse what was damaged, and are small.
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  blockCrc,
  decodePoints,
  decodeVoltage,
  decodeWindows,
  encodePoints,
  encodeVoltage,
  encodeWindows,
  newVoltageColumns,
  newWindowColumns,
} from '../../../host/capture/format/blocks.ts';
import type { PointColumns } from '../../../host/capture/format/blocks.ts';
import { ByteSink, ByteSource, putDecimal, putWhole, takePlane } from '../../../host/capture/format/planes.ts';
import type { VoltageReading, WindowReading } from '../../../host/contract/capture.ts';

const int32 = fc.integer();
const uint32 = fc.integer({ min: 0, max: 2 ** 32 - 1 });
/** Windows as the recorder lets them through: in the order of their times, with holes of any size. */
const readings = fc
  .array(
    fc.record({
      kind: fc.constant('window' as const),
      seq: uint32,
      t_us: fc.constant(0),
      hole_us: fc.oneof(fc.constant(0), fc.integer({ min: 0, max: 2 ** 46 })),
      dur_us: uint32,
      count: uint32,
      mean_uA: int32,
      min_uA: int32,
      max_uA: int32,
      charge_nC: fc.integer({ min: -(2 ** 51), max: 2 ** 51 }),
      flags: fc.nat(63),
    }),
    { minLength: 1, maxLength: 60 },
  )
  .map((windows) => {
    let t_us = 0;
    return windows.map(({ hole_us, ...window }): WindowReading => ({
      ...window,
      t_us: (t_us += hole_us + window.dur_us),
    }));
  });

describe('planes', () => {
  const through = (put: (sink: ByteSink, values: Float64Array) => void, values: number[]) => {
    const sink = new ByteSink();
    put(sink, Float64Array.from(values));
    const out = new Float64Array(values.length);
    const source = new ByteSource(sink.taken());
    takePlane(source, values.length, out, 0);
    expect(source.at).toBe(sink.length);
    return { out: [...out], bytes: sink.length };
  };

  test('whole numbers come back, each bit, whatever they are', () => {
    fc.assert(
      fc.property(
        fc.array(fc.oneof(fc.maxSafeInteger(), fc.integer({ min: -200, max: 200 }), fc.double())),
        (values) => {
          expect(through(putWhole, values).out).toEqual(values);
        },
      ),
    );
  });

  test('decimal fractions come back, each bit, whatever they are', () => {
    const decimal = fc
      .tuple(fc.integer({ min: -1e9, max: 1e9 }), fc.nat(6))
      .map(([m, places]) => Number(`${m}e-${places}`));
    fc.assert(
      fc.property(fc.array(fc.oneof(decimal, fc.double())), (values) => {
        expect(through(putDecimal, values).out).toEqual(values);
      }),
    );
  });

  test('edges: widths of a varint, minus zero, infinities, NaN', () => {
    const widths = Array.from({ length: 53 }, (_, bit) => [2 ** bit - 1, -(2 ** bit), 2 ** bit]).flat();
    for (const values of [widths, [-0, 1], [Infinity, -Infinity, NaN], [2 ** 60, 1], []]) {
      expect(through(putWhole, values).out).toEqual(values);
      expect(through(putDecimal, values).out).toEqual(values);
    }
  });

  test('printed values cost a byte or two, not eight', () => {
    const values = Array.from({ length: 1000 }, (_, i) => Number((12 + Math.sin(i / 9) / 100).toFixed(3)));
    expect(through(putDecimal, values).bytes).toBeLessThan(1100);
  });

  test('a plane that ends early is refused', () => {
    const sink = new ByteSink();
    putWhole(sink, Float64Array.of(1, 2, 3));
    expect(() => takePlane(new ByteSource(sink.taken().subarray(0, 3)), 3, new Float64Array(3), 0)).toThrow(
      'ends before',
    );
    expect(() => takePlane(new ByteSource(Uint8Array.of(9)), 0, new Float64Array(0), 0)).toThrow('form 9');
  });
});

describe('blocks', () => {
  test('windows come back as they were', () => {
    fc.assert(
      fc.property(readings, (windows: WindowReading[]) => {
        const data = encodeWindows(windows);
        const out = newWindowColumns(windows.length + 2);
        decodeWindows(data, blockCrc(data), windows.length, out, 1);
        windows.forEach((w, i) => {
          for (const key of Object.keys(out) as (keyof typeof out)[]) expect(out[key][i + 1], key).toBe(w[key]);
        });
      }),
    );
  });

  test('voltages come back as they were', () => {
    const voltage: VoltageReading[] = [
      { kind: 'voltage', seq: 7, t_us: 2 ** 53 - 1, bus_mV: -(2 ** 31), temp_mC: 2 ** 31 - 1, dropped: 2 ** 32 - 1 },
      { kind: 'voltage', seq: 9, t_us: 3, bus_mV: 12612, temp_mC: -18250, dropped: 0 },
    ];
    const data = encodeVoltage(voltage);
    const out = newVoltageColumns(2);
    decodeVoltage(data, blockCrc(data), 2, out, 0);
    voltage.forEach((v, i) =>
      expect({
        kind: 'voltage',
        ...Object.fromEntries(Object.entries(out).map(([k, c]) => [k, (c as Float64Array)[i]])),
      }).toEqual(v),
    );
  });

  test('points come back as they were, columns that were missing stay missing', () => {
    const column = fc.array(fc.double(), { minLength: 20, maxLength: 20 }).map((values) => Float64Array.from(values));
    const points = fc.record({
      t_s: column,
      current_mA: column,
      min_mA: fc.option(column),
      max_mA: fc.option(column),
      voltage_V: fc.option(column),
    });
    fc.assert(
      fc.property(points, (p: PointColumns) => {
        const data = encodePoints(p);
        const out: PointColumns = {
          t_s: new Float64Array(20),
          current_mA: new Float64Array(20),
          min_mA: null,
          max_mA: null,
          voltage_V: null,
        };
        decodePoints(data, blockCrc(data), 20, out, 0);
        expect(out).toEqual(p);
      }),
    );
  });

  test('any flipped bit is found', () => {
    const windows = Array.from({ length: 50 }, (_, i): WindowReading => ({
      kind: 'window',
      seq: i,
      t_us: 50_000 * (i + 1),
      dur_us: 50_000,
      count: 47,
      mean_uA: 12_000 + (i % 7),
      min_uA: 9000,
      max_uA: 15_000,
      charge_nC: i * 600_000,
      flags: 0,
    }));
    const data = encodeWindows(windows);
    const crc = blockCrc(data);
    for (let bit = 0; bit < data.length * 8; bit++) {
      const hurt = Buffer.from(data);
      hurt[bit >> 3]! ^= 1 << (bit & 7);
      expect(() => decodeWindows(hurt, crc, 50, newWindowColumns(50), 0)).toThrow('check value');
    }
  });
});
