// The modelled car whose fuses can be pulled, and whose parts can be put right: what it draws.
import { expect, test } from 'vitest';
import { SwitchedCar } from '../../../host/emulator/car/switched.ts';

const SPEC = {
  parts: [
    { name: 'radio', behind: ['F1'], mA: 200, repaired_mA: 5 },
    { name: 'clock', behind: ['F1', 'F2'], mA: 10 },
  ],
  wake: { mA: 100, length_s: 15 },
  bridgedShare: 0.25,
  battery_V: 12,
};

/** Mean of the second that begins at `from_s`. */
const draw_mA = (car: SwitchedCar, from_s: number) => car.charge_mC(from_s + 1) - car.charge_mC(from_s);

test('a part that is put right draws what it should, in place and out; putting right wakes nothing', () => {
  const car = new SwitchedCar(SPEC);
  expect(draw_mA(car, 0)).toBeCloseTo(210, 9);
  car.switch(new Set(['repaired radio', 'repaired clock']), 10);
  // Nothing was wrong with the clock.
  expect(draw_mA(car, 10)).toBeCloseTo(15, 9);
  car.switch(new Set(['repaired radio', 'F1']), 20);
  expect(draw_mA(car, 20)).toBeCloseTo(0, 9);
  car.switch(new Set(['repaired radio']), 30);
  expect([draw_mA(car, 30), draw_mA(car, 50)].map((mA) => Math.round(mA))).toEqual([115, 15]);
  car.switch(new Set(), 60);
  expect(draw_mA(car, 60)).toBeCloseTo(210, 9);
});
