// What nights say of the bay's work: intermittent draws, before and after the repair, and
// evidence from elsewhere that shifts the order and decides nothing.
import { describe, expect, test } from 'vitest';
import type { Family, Findings } from '../../../host/contract/findings.ts';
import { checkedOdds, oddsInWords, oddsOf } from '../../../host/bay/search/evidence.ts';
import type { Evidence } from '../../../host/bay/search/evidence.ts';
import { compareBoards, compareNights, nightAdvice } from '../../../host/bay/search/intermittent.ts';
import { hintsFromNight } from '../../../host/bay/search/night-hints.ts';
import { compareRepair } from '../../../host/bay/work/repair.ts';
import { readTree } from '../../../host/bay/tree/tree-build.ts';
import { findNode } from '../../../host/bay/tree/tree.ts';
import { HeldSession } from './held-session.ts';

const CSV =
  'box,position,rating,type,feeds\na,F1,10,regular,telematics box\na,F2,10,regular,radio\na,F3,10,regular,gateway\na,F4,10,regular,airbag unit';
const tree = readTree(CSV).tree!;
const node = (name: string) => findNode(tree, name)!.id;
const family = (more: Partial<Family> = {}): Family => ({
  id: 1,
  count: 40,
  period_s: 600,
  period_chance: 1e-9,
  period_95_s: null,
  polling: false,
  duration_s: 45,
  charge_mAh: 2,
  ...more,
});

/** A night of 8 h, asleep after half an hour. */
function night(level_mA: number, more: Partial<Findings> = {}): Findings {
  const duration_s = 8 * 3600;
  return {
    trace: { start: null, duration_s, samples: 1, mean_mA: level_mA, gaps: [] },
    allowance_mA: 50,
    verdict: { code: level_mA > 50 ? 'over' : 'within', sentence: '' },
    asleep: { after_s: 1800, level_mA, mean_mA: level_mA, covered_s: duration_s - 1800 },
    steps: [],
    wakeups: [],
    families: [],
    dips: [],
    charge: {
      total_mAh: level_mA * 8,
      going_to_sleep_mAh: level_mA / 2,
      asleep_mAh: level_mA * 7.5,
      wakeups_mAh: 0,
      gaps_mAh: null,
    },
    battery: {},
    levels: [],
    ...more,
  };
}

describe('intermittent draws', () => {
  const belief = Float64Array.from(tree.parts, (id) => (tree.nodes[id]!.name === 'radio' ? 0.5 : 0.5 / 3));

  test('the fuse nearest to one half comes first; what must stay on gets a second board, an airbag circuit neither', () => {
    const advice = nightAdvice(tree, belief, 9);
    expect(advice[0]).toMatchObject({ node: node('F2'), how: 'leave out' });
    const at = (name: string) => advice.find((one) => one.node === node(name))!;
    expect(at('F3').text).toBe(
      'Watch fuse F3 (a) with a second board for a night (F3): what it feeds must stay on (gateway). Its own 10 A fuse stays in series with the board, on the feed side: firmware/BOARD.md, drawing 2.',
    );
    expect(at('F4')).toMatchObject({
      how: 'leave in',
      text: "Leave fuse F4 (a) in: airbag, seat belt or high voltage is behind it (airbag unit). The car maker's procedure only.",
    });
  });

  test('no second board where the fuse opens after the board, at a relay, at a fuse left alone or one that nobody knows', () => {
    const other = readTree(
      'box,position,rating,type,feeds,leave alone\na,F1,15,regular,gateway,\na,F2,20,regular,K1,\na,K1,,relay,door lock,\na,F3,5,regular,alarm siren,yes\na,F4,10,regular,,\na,F5,10,regular,brake pump,',
    ).tree!;
    const advice = nightAdvice(other, new Float64Array(other.parts.length).fill(1), 9);
    const said = Object.fromEntries(
      advice.map(({ node: id, how, text }) => [other.nodes[id]!.name, [how, text]] as const),
    );
    expect(said['F1']).toEqual([
      'leave in',
      'Leave fuse F1 (a) in: what it feeds must stay on (gateway), and a second board bears 10 A all night, less than this fuse.',
    ]);
    expect(said['K1']![1]).toMatch(/A second board goes at a fuse, not at a relay/);
    expect(said['F3']![1]).toMatch(/^Leave fuse F3 \(a\) in: it is marked to be left alone/);
    expect(said['F4']).toEqual([
      'ask first',
      'Fuse F4 (a): look up first what it feeds, and write it into the list; it stays in if an airbag, seat belt or high-voltage circuit is among it.',
    ]);
    expect(said['F5']![0]).toBe('second board');
  });

  test('a family that disappeared points to its circuit, one that stays clears it', () => {
    const before = night(40, { families: [family()] });
    expect(compareNights(tree, before, night(40), node('F1'))[0]).toMatchObject({ fate: 'gone' });
    expect(compareNights(tree, before, night(40, { families: [family({ id: 7 })] }), node('F1'))[0]).toMatchObject({
      fate: 'still there',
    });
  });

  test('a night too short for the family says so', () => {
    const short = night(40, { trace: { start: null, duration_s: 1800 + 1200, samples: 1, mean_mA: 40, gaps: [] } });
    expect(compareNights(tree, night(40, { families: [family()] }), short, node('F1'))[0]).toMatchObject({
      fate: 'cannot tell',
    });
  });

  test('a second board at a fuse: seen there, not seen there, too short', () => {
    const car = night(40, { families: [family()] });
    const fate = (circuit: Findings) => compareBoards(tree, car, circuit, node('F3'))[0]!;
    expect(fate(night(2, { families: [family({ id: 3, charge_mAh: 1.9 })] }))).toMatchObject({
      fate: 'still there',
      text: 'Family 1 flows through fuse F3 (a): it comes from there.',
    });
    expect(fate(night(2))).toMatchObject({
      fate: 'gone',
      text: expect.stringMatching(/not seen at fuse F3 \(a\), due 48 times: it comes from elsewhere/) as string,
    });
    expect(
      fate(night(2, { trace: { start: null, duration_s: 1200, samples: 1, mean_mA: 2, gaps: [] } })),
    ).toMatchObject({ fate: 'cannot tell' });
  });
});

describe('after the repair', () => {
  test.each([
    ['proven', night(300), night(20), 'proven'],
    ['still over', night(300), night(80), 'not proven'],
    ['never asleep', night(300), night(300, { asleep: null, verdict: { code: 'awake', sentence: '' } }), 'not proven'],
    [
      'too short to be asleep',
      night(300),
      night(20, { asleep: null, verdict: { code: 'short', sentence: '' } }),
      'too short',
    ],
    [
      'asleep for less than an hour',
      night(300),
      night(20, { trace: { start: null, duration_s: 1800 + 3000, samples: 1, mean_mA: 20, gaps: [] } }),
      'too short',
    ],
    ['nothing was wrong before', night(30), night(20), 'not proven'],
  ] as const)('%s', (_, before, after, code) => {
    const result = compareRepair(before, after);
    expect(result.code).toBe(code);
    expect(result.sentence.toLowerCase().startsWith(code)).toBe(true);
  });

  test('a family once in three hours needs nine hours of sleep to be proven gone', () => {
    const before = night(40, {
      verdict: { code: 'wakes', sentence: '' },
      families: [family({ count: 2, period_s: 3 * 3600, charge_mAh: 400 })],
    });
    expect(compareRepair(before, night(20)).code).toBe('too short');
  });

  test('a night before the repair that came after it proves nothing', () => {
    const at = (start: string, one: Findings): Findings => ({ ...one, trace: { ...one.trace, start } });
    const [first, second] = ['2030-01-02T20:00:00.000Z', '2030-01-05T20:00:00.000Z'];
    const [bad, good] = [night(300), night(25)];
    expect(compareRepair(at(first, bad), at(second, good)).code).toBe('proven');
    const { code, sentence } = compareRepair(at(second, bad), at(first, good));
    expect([code, sentence]).toEqual(['not proven', expect.stringContaining('the other way round')]);
  });

  // 24 Ah to no-start at 25 mA is 40 days (trade-facts: RC 100 = 60 Ah = 24 Ah to no-start = 40 days).
  test('days to no start: 24 Ah at 25 mA are 40', () => {
    const row = compareRepair(night(300), night(25), 24).rows.find((one) => one.unit === 'd')!;
    expect(row.after).toBeCloseTo(40, 6);
  });
});

describe('evidence', () => {
  const piece = (name: string, odds: number): Evidence => ({
    node: node(name),
    kind: 'other',
    odds,
    text: 'seen',
    source: 'the customer',
    at_ms: null,
  });

  test('odds multiply within limits, and say what they are', () => {
    expect(oddsOf([piece('F1', 4), piece('F1', 0.5)], (id) => id === node('F1'))).toBe(2);
    expect(oddsOf([piece('F1', 10), piece('F1', 10)], () => true)).toBe(30);
    expect([oddsInWords(4), oddsInWords(0.5)]).toEqual(['4 : 1 for it', '2 : 1 against it']);
    expect(() => checkedOdds(11)).toThrow(/0\.1 to 10/);
    expect(() => checkedOdds(NaN)).toThrow(/odds of NaN/);
  });

  test('it shifts the proposed order, and never names a part', () => {
    const session = HeldSession.start(CSV, { step_mV: null });
    let t_s = 0;
    const run = (length_s: number) => {
      for (const end = t_s + length_s; t_s < end; t_s += 0.25) session.take({ kind: 'reading', t_s, mean_mA: 250 });
    };
    run(40);
    expect(session.view.move).not.toBeNull();
    for (let i = 0; i < 5; i++) session.take({ kind: 'evidence', t_s, evidence: piece('radio', 10) });
    run(30);
    const view = session.view;
    expect(view.move!.name).toMatch(/F2|radio/);
    expect(view.sought[0]!.places[0]).toMatchObject({ name: 'radio', odds: '30 : 1 for it' });
    expect(view.named).toEqual([]);
  });

  // GM service manual 2001: 80 to 240 mA for about 45 s every 9 to 10 min.
  test('a night with the rhythm of a telematics unit speaks for it', () => {
    const hints = hintsFromNight(night(40, { families: [family()] }), tree, 'night of Monday');
    expect(hints.map((hint) => hint.node)).toEqual([node('telematics box')]);
    expect(hintsFromNight(night(40, { families: [family({ period_s: 60 })] }), tree, 'x')).toEqual([]);
  });
});
