// The corpus of the fuzzing, and some thousand changes of it that are the same each time; the
// long search for more is fuzz.real.test.ts.
import { expect, test } from 'vitest';
import { seedOf } from '../../seeds.ts';
import { corpusOf } from './corpus.ts';
import { TARGETS } from './fuzz-targets.ts';
import { fuzz } from './fuzzer.ts';

test.each(Object.keys(TARGETS))('%s: whatever the bytes, an answer or an error in words', async (name) => {
  const seed = seedOf(20310608);
  const { found, runs } = await fuzz(TARGETS[name]!, {
    seed,
    seconds: Infinity,
    runs: 2000,
    corpus: corpusOf(name),
    guided: false,
  });
  expect(
    found.map(({ what, bytes }) => `${what}: ${bytes.toString('base64')}`),
    `seed ${seed}`,
  ).toEqual([]);
  expect(runs).toBeGreaterThanOrEqual(2000);
});
