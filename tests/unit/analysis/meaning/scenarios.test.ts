// Every scenario night: the verdict's code, the warnings, the facts of the sentence; no
// sentence says a number that is not in its findings; and the charge bill adds up.

import { afterAll, describe, expect, test } from 'vitest';
import type { NightMeaning } from '../../../../host/analysis/meaning/interpret.ts';
import { billFaults } from './bill-check.ts';
import { strayNumbers, verdictContradictions } from './read-back.ts';
import { meaningOf, sourceOf, startOf } from './scene.ts';
import { CAUSES, COMPLAINTS, MISREAD, PLAIN } from './scenarios.ts';
import type { Scenario } from './scenarios.ts';

const SEED = 11;
const ALL = [...PLAIN, ...CAUSES, ...MISREAD, ...COMPLAINTS];
const seen = new Map<Scenario, NightMeaning>();

function nightOf(scenario: Scenario): NightMeaning {
  const night = seen.get(scenario) ?? meaningOf(scenario, SEED);
  seen.set(scenario, night);
  return night;
}

afterAll(() => seen.clear());

test('there are forty scenarios and more, each with a name of its own', () => {
  expect(ALL.length).toBeGreaterThanOrEqual(40);
  expect(new Set(ALL.map((s) => s.name)).size).toBe(ALL.length);
});

describe.each(ALL.map((scenario) => [scenario.name, scenario] as const))('%s', (_, scenario) => {
  test('verdict, warnings and sentence', () => {
    const night = nightOf(scenario);
    expect({ code: night.verdict.code, warnings: night.warnings.map((w) => w.code) }, night.verdict.sentence).toEqual({
      code: scenario.code,
      warnings: scenario.warnings,
    });
    const plain = night.verdict.sentence;
    for (const fact of scenario.says) expect(plain.toLowerCase()).toContain(fact.toLowerCase());
    if (scenario.warns !== undefined) expect(night.warnings[0]!.sentence).toMatch(scenario.warns);
    for (const warning of night.warnings) expect(warning.next.length).toBeGreaterThan(20);
    if (scenario.cause !== undefined)
      expect(night.explanations[0]!.causes[0]?.code ?? null, JSON.stringify(night.explanations[0])).toBe(
        scenario.cause,
      );
    if (scenario.stepCause !== undefined)
      expect(night.explanations.flatMap((e) => (e.about === 'step' ? e.causes.map((c) => c.code) : []))).toContain(
        scenario.stepCause,
      );
    if (scenario.complaint !== undefined)
      expect(night.complaint?.code, night.complaint?.sentence).toBe(scenario.complaint);
  });

  test('nothing it says contradicts its numbers', () => {
    const night = nightOf(scenario);
    const start_ms = startOf(scenario);
    expect(verdictContradictions(night)).toEqual([]);
    for (const w of night.warnings)
      expect(strayNumbers(w.sentence.replace('12 V battery', 'battery'), w.facts, start_ms), w.sentence).toEqual([]);
    for (const e of night.explanations) {
      const { shape } = e;
      const step = e.about === 'step' ? night.steps[e.id]! : null;
      const facts = {
        count: e.count,
        id: e.id,
        every_s: e.period_s ?? 0,
        length_s: shape?.length_s ?? 0,
        mean_mA: shape?.mean_mA ?? 0,
        fall_mA: step === null ? 0 : step.from_mA - step.to_mA,
        at_s: e.first_s,
      };
      expect(strayNumbers(e.sentence.replace(`Family ${e.id}`, 'It'), facts, start_ms), e.sentence).toEqual([]);
    }
    const { battery, complaint } = night;
    const range = (name: string, r: { low: number; high: number } | null) =>
      r === null ? {} : { [`low${name}`]: r.low, [`high${name}`]: r.high };
    const told = scenario.told ?? {};
    const facts = {
      ...range('_days', battery.days),
      ...Object.fromEntries(Object.entries(range('_pct', battery.charge_before_pct)).map(([k, v]) => [`b${k}`, v])),
      ...range('_pct', battery.charge_after_pct),
      draw_mA: battery.draw_mA ?? 0,
      before_V: told.before_V ?? 0,
      after_V: told.after_V ?? battery.volts?.end_V ?? 0,
    };
    expect(strayNumbers(battery.sentence, facts, start_ms), battery.sentence).toEqual([]);
    if (complaint !== null) {
      const N = complaint.dead_after_days;
      const more = {
        N_days: N,
        ...range('_days', complaint.sound_days),
        weak_days: complaint.weak_days ?? 0,
        draw_mA: battery.draw_mA ?? 0,
        takes_mAh: (battery.draw_mA ?? 0) * 24 * N,
      };
      expect(strayNumbers(complaint.sentence, more, start_ms), complaint.sentence).toEqual([]);
    }
  });

  test('the charge bill adds up, exactly and as shown', () => {
    expect(billFaults(nightOf(scenario), sourceOf(scenario, SEED).trace)).toEqual([]);
  });
});

describe('the checks can fail', () => {
  const night = meaningOf(PLAIN[2]!);
  const saying = (sentence: string): NightMeaning => ({ ...night, verdict: { ...night.verdict, sentence } });
  const { sentence } = night.verdict;

  test.each([
    ['62 mA', '63 mA'],
    ['34 min', '35 min'],
    ['15 times', '14 times'],
    ['48 s', '47 s'],
    ['1.9 A', '1.8 A'],
    ['at 19 mA', 'at 20 mA'],
    ['20 min', '21 min'],
    ['over', 'within'],
    ['50 mA', '40 mA'],
  ])('%s told as %s', (from, to) => {
    expect(sentence).toContain(from);
    expect(verdictContradictions(night)).toEqual([]);
    expect(verdictContradictions(saying(sentence.replace(from, to)))).not.toEqual([]);
  });

  test('a bill of which a tenth is missing', () => {
    const lines = night.bill.lines.map((line, i) => (i === 0 ? { ...line, shown_mAh: line.shown_mAh! - 0.1 } : line));
    const { trace } = sourceOf(PLAIN[2]!, SEED);
    expect(billFaults(night, trace)).toEqual([]);
    expect(billFaults({ ...night, bill: { ...night.bill, lines } }, trace)).not.toEqual([]);
    // Reading one sample of 20 A more than there was is seen as well.
    const more = { ...trace, mean_mA: trace.mean_mA.map((mA, i) => (i === 9000 ? mA + 20_000 : mA)) };
    expect(billFaults(night, more)).not.toEqual([]);
    expect(strayNumbers('It drew 19 mA for 3 min.', { draw_mA: 19.2, for_s: 250 }, null)).toEqual(['3 min']);
  });
});
