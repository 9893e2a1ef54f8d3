// Fuse drops against published values, and the table of a box.
import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { readDrops } from '../../../host/bay/search/drop-list.ts';
import { boxTable, currentFromDrop, fuseResistance } from '../../../host/bay/tree/fuses.ts';
import { readTree } from '../../../host/bay/tree/tree-build.ts';
import { findNode } from '../../../host/bay/tree/tree.ts';

const demo = readFileSync(new URL('../../../host/bay/examples/demo-tree.csv', import.meta.url), 'utf8');

describe('current from the drop across a fuse', () => {
  // ISO 8820-3 type C, cold resistance of a 10 A blade 7.7 mOhm (Littelfuse ATOF 287 data sheet).
  test('10 A regular blade: 1 mV is about 130 mA', () => {
    expect(currentFromDrop('regular', 10, 1)!.current_mA).toBeCloseTo(130, 0);
  });

  // MACS Service Report, June 2017, chart of miniature fuses: 15 A, 0.1 mV 22 mA, 1.0 mV 218 mA.
  test('15 A miniature: 0.1 mV is about 22 mA, 1 mV about 218', () => {
    expect(currentFromDrop('miniature', 15, 0.1)!.current_mA).toBeCloseTo(22, 0);
    expect(Math.abs(currentFromDrop('miniature', 15, 1)!.current_mA - 218)).toBeLessThan(1);
  });

  // ISO 8820-3 type C, cold resistances in mOhm (Littelfuse ATOF 287 data sheet).
  test.each([
    [2, 53.5],
    [3, 31.1],
    [4, 22.8],
    [5, 17.85],
    [10, 7.7],
    [15, 4.8],
    [20, 3.38],
    [30, 1.97],
  ])('regular %d A: %f mOhm', (rating_A, mOhm) => {
    expect(fuseResistance('regular', rating_A)).toEqual({ resistance_mOhm: mOhm, source: 'data sheet' });
  });

  // From memory, no source could be read: the program says so too.
  test.each([
    [1, 123],
    [7.5, 10.91],
    [25, 2.52],
  ])('regular %d A: %f mOhm, from memory', (rating_A, mOhm) => {
    expect(fuseResistance('regular', rating_A)).toEqual({ resistance_mOhm: mOhm, source: 'from memory' });
  });

  test('the limits hold the true current for fuses 15 % off the chart', () => {
    for (const off of [0.87, 1.15]) {
      const reading = currentFromDrop('regular', 10, 0.3 * 7.7 * off)!;
      expect(reading.low_mA).toBeLessThan(300);
      expect(reading.high_mA).toBeGreaterThan(300);
    }
  });

  test('says where a resistance is from memory, and trusts it less', () => {
    const [sheet, memory] = [currentFromDrop('regular', 5, 5)!, currentFromDrop('micro', 5, 5)!];
    expect([sheet.source, memory.source]).toEqual(['data sheet', 'from memory']);
    expect(memory.sigma_mA / memory.current_mA).toBeGreaterThan(sheet.sigma_mA / sheet.current_mA);
  });

  test('an impossible reading is refused in words', () => {
    expect(() => currentFromDrop('regular', 10, 12_000)).toThrow(
      /more than it carries: is the fuse blown, or the meter not on mV\?/,
    );
    expect(() => currentFromDrop('regular', 10, NaN)).toThrow(/not a voltage/);
    expect(currentFromDrop('bolted', 100, 1)).toBeNull();
  });

  test.each([
    ['X9,1', /line 2: 'X9' is no fuse of the tree/],
    ['D2,much', /line 2: 'much' is not a voltage in mV/],
    ['D2,6930', /line 2: D2: 6930 mV .* would be 900\.0 A, more than it carries/],
    ['D2,6,9', /line 2: '9' stands past the last column/],
    ['D2,1\nD2,2', /line 3: D2 was read twice; the other one is in line 2/],
    ['', /line 1: there is no reading in the file/],
  ])('a list with %j is complained of', (rows, words) => {
    const { complaints } = readDrops(`fuse,mV\n${rows}`, readTree(demo).tree!);
    expect(complaints.map(({ line, text }) => `line ${line}: ${text}`).join('\n')).toMatch(words);
  });

  // The probes the other way round.
  test('a negative voltage is the same current', () => {
    expect(currentFromDrop('regular', 10, -1)).toEqual(currentFromDrop('regular', 10, 1));
  });

  test('the table of a box adds no fuse twice and says what is not accounted for', () => {
    const { tree } = readTree(demo);
    const node = (name: string) => findNode(tree!, name)!;
    const table = boxTable(
      [
        { node: node('D1'), above: ['L3'], drop_mV: 0.2 },
        { node: node('D9'), above: ['D1', 'L3'], drop_mV: 0.7 },
      ],
      400,
    );
    // D1: 0.2 mV / 1.97 mOhm = 102 mA; D9 lies behind it.
    expect(table.sum_mA).toBeCloseTo(101.5, 0);
    expect(table.unaccounted_mA).toBeCloseTo(298.5, 0);
    expect(table.sentence).toMatch(/298 mA flow somewhere else|299 mA flow somewhere else/);
  });
});
