// Text of the printed page: every word is there, and no line ends between a number and its unit.
import { expect, test } from 'vitest';
import { wrap } from '../../../host/report/column.ts';

const TEXT =
  'Asleep after 24 min at 19 mA. With its wake-ups it averages 65 mA from then on, over the 50 mA allowed: 6.7 µAh, 1.5 Ah, 12.64 V, 9 h 30 min, 4 to 14 °C, 25 % and 5 mΩ.';
const UNITS = ['mA', 'µAh', 'Ah', 'V', 'h', 'min', 'to', '°C', '%', 'mΩ.'];

test('no number stands without its unit at the end of a line, at any width', () => {
  let lines = 0;
  for (let width = 12; width <= TEXT.length; width++) {
    const wrapped = wrap(TEXT, width, 1, false, (text) => text.length);
    expect(wrapped.join(' ')).toBe(TEXT);
    for (const [i, line] of wrapped.slice(1).entries()) {
      const parted = /\d$/.test(wrapped[i]!) && UNITS.includes(line.split(/[ .,:]/)[0]!);
      expect(parted, `${wrapped[i]!} | ${line}`).toBe(false);
    }
    lines += wrapped.length;
  }
  expect(lines).toBeGreaterThan(300);
});
