// One word for one thing: what has a name is called nothing else in any text that a person reads.
import { expect, test } from 'vitest';
import { saidStrings, stringsIn } from './strings.ts';

/** The word that is used, and others for the same thing. */
const ONE_WORD: readonly (readonly [used: string, others: RegExp])[] = [
  ['asleep level', /\blevel asleep\b|\bsleep(ing)? level\b/i],
  ['average asleep', /\bmean draw\b/i],
  ['wake-ups in 24 h', /\bwake-ups an hour\b/i],
  ['may not crank', /\bno start\b|\btoo low to start\b/i],
  ['one-off', /\blike no other\b/i],
  ['possible normal cause', /\bcan do the like\b|\bdoes so for\b/i],
  ['parallel ground path', /\bsecond path\b/i],
  ['proof load', /\bproof resistor\b/i],
  ['car maker', /\bcarmaker/i],
  ['number plate or plate', /\blicen[cs]e plate\b|\bregistration plate\b/i],
  ['local regulations', /\blocal (codes|rules)\b/i],
  ['chassis', /\bthe body with\b/i],
  ['given', /\bnot told\b|\bwas told\b|\bthat nobody\b/i],
  ['coded, initialised', /\btaught in\b|\blearnt again\b/i],
  ['trained, authorised persons', /\blicensed staff\b/i],
  ['internal resistance', /\bgives way by\b/i],
];

test('what has a name is called nothing else', () => {
  const said = saidStrings();
  expect(said.length).toBeGreaterThan(500);
  const bad = said.flatMap(({ at, text }) =>
    ONE_WORD.filter(([, others]) => others.test(text)).map(
      ([used, others]) => `${at} '${others.exec(text)![0]}': ${used}`,
    ),
  );
  expect(bad).toEqual([]);
});

test('literals and templates are read, comments and imports are not', () => {
  const text =
    "// the mean draw\nimport { a } from 'mean draw';\nconst b = `at ${a} mean draw`;\nconst c = 'two words';\n";
  expect(stringsIn('x.ts', text)).toEqual([
    { at: 'x.ts:3', text: 'at … mean draw' },
    { at: 'x.ts:4', text: 'two words' },
  ]);
});
