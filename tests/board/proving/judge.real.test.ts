// The long form of judge.test.ts: sound boards, none refused; each build fault, 19 of 20 named rightly at the
// least, none passed as sound. `npm run soak`: 200 sound boards, and five specimens of each fault (15 min).
import { expect, test } from 'vitest';
import { BUILD_FAULTS, SOUND } from './build-faults.ts';
import { prove } from './proved.ts';
import { soundSpecimen } from './specimens.ts';

const soak = process.env['NIGHTDRAW_SOAK'] === '1';
const SOUND_BOARDS = soak ? 200 : 12;
const SPECIMENS = soak ? 5 : 1;

test('sound boards within tolerance: none refused', async () => {
  const refused: string[] = [];
  for (let seed = 1000; seed < 1000 + SOUND_BOARDS; seed++) {
    const { ending } = await prove(SOUND, soundSpecimen(seed));
    if (ending.mistake !== null) refused.push(`seed ${seed}: ${ending.mistake}`);
  }
  expect(refused).toEqual([]);
}, 3_600_000);

test('25 build faults: 19 of 20 named rightly, none passed as sound', async () => {
  const wrong: string[] = [];
  let passed = 0;
  let all = 0;
  for (const fault of BUILD_FAULTS)
    for (let seed = 2000; seed < 2000 + SPECIMENS; seed++) {
      const { ending } = await prove(fault, soundSpecimen(seed));
      all++;
      if (ending.mistake === null) passed++;
      if (ending.mistake !== fault.is) wrong.push(`${fault.is}, seed ${seed}: ${ending.mistake}`);
    }
  console.log(
    `${all} boards built wrongly: ${wrong.length} named otherwise, ${passed} passed as sound ${wrong.join('; ')}`,
  );
  expect(passed, wrong.join('; ')).toBe(0);
  expect(wrong.length, wrong.join('; ')).toBeLessThanOrEqual(all / 20);
}, 3_600_000);

test('an INA226 passes where it was meant', async () => {
  const other = BUILD_FAULTS.find(({ is }) => is === 'other-chip')!;
  expect((await prove(other, soundSpecimen(4), 'ina226')).ending.mistake).toBeNull();
  expect((await prove(SOUND, soundSpecimen(4), 'ina226')).ending.mistake).toBe('other-chip');
});
