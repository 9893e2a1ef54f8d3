// What came out of the work in the bay, from what a capture keeps of it.
import { describe, expect, test } from 'vitest';
import { readWork } from '../../../host/bay/work/kept-state.ts';
import { bayResults } from '../../../host/bay/work/results.ts';
import { HeldWork } from './held-work.ts';
import { WorkedCar, workedCar } from './worked-car.ts';

describe('results of the bay', () => {
  const kept = workedCar();
  const results = bayResults(kept);

  test('the part, its way, and draws that add up', () => {
    expect(results.outcome).toBe('found');
    expect(results.parts).toEqual([
      expect.objectContaining({ code: 'proven', name: 'amplifier', way: 'F2 > amplifier' }),
    ]);
    expect(results.parts[0]!.amount_mA).toBeCloseTo(200, 0);
    const { total_mA, named_mA, rest_mA, sentence } = results.sum!;
    expect(named_mA + rest_mA).toBeCloseTo(total_mA, 0);
    expect(sentence).toBe('The car drew 220 mA: 200 mA named, 20 mA for all the rest, within the allowance of 50 mA.');
    expect(results.next).toMatch(/^Bridge on, then put back what is out: fuse F2/);
  });

  test('what was pulled and read, with doubt, voltage and time on the trace', () => {
    expect(results.tests.map(({ how, name, says }) => [how, name, says])).toEqual([
      ['measured', 'the whole car', 'draws'],
      ['read', 'fuse F2 (a)', 'draws'],
      ['pulled', 'fuse F2 (a)', 'draws'],
    ]);
    // 1.5 mV over 7.7 mOhm (10 A regular blade, ISO 8820-3 type C, Littelfuse ATOF 287).
    expect(results.tests[1]).toMatchObject({ drop_mV: 1.5 });
    expect(results.tests[1]!.amount_mA).toBeCloseTo(1500 / 7.7, 6);
    expect(results.tests.every((one, i) => i === 0 || one.t_s >= results.tests[i - 1]!.t_s)).toBe(true);
    expect(results.drops).toMatchObject({
      measured_mA: expect.closeTo(220, 0) as number,
      sentence: expect.stringContaining('That accounts for the 220 mA') as string,
    });
  });

  test('evidence and proof load with time and source', () => {
    expect(results.evidence).toEqual([
      expect.objectContaining({
        name: 'amplifier',
        kind: 'fault code',
        source: 'the customer',
        odds: 4,
        at: '2026-11-24T09:00:00.000Z',
      }),
    ]);
    expect(results.proof!.sentence).toBe('Expected 126.0 mA, seen 126.0 mA: the board reads true.');
  });

  test('putting everything back changes what is out, not what was found', () => {
    const car = new WorkedCar(HeldWork.resume(kept.state));
    car
      .act({ do: 'bridge', on: true })
      .act({ do: 'did', what: 'refitted', name: 'F2' })
      .act({ do: 'tick', id: 'fuses', ticked: true });
    const after = bayResults({ entries: kept.entries, state: car.work.toJSON() });
    expect(after.out).toEqual([]);
    expect(after.sum!.sentence).toBe(results.sum!.sentence);
    expect(after.closing.filter((item) => item.ticked).map((item) => item.id)).toEqual(['fuses']);
    expect(after.next).toMatch(/^Put amplifier right, then record a night/);
  });

  test('times stay on the trace when the work is gone on with', () => {
    const again = bayResults({
      entries: kept.entries,
      state: HeldWork.resume(HeldWork.resume(kept.state).toJSON()).toJSON(),
    });
    expect(again.tests.map((one) => one.t_s)).toEqual(results.tests.map((one) => one.t_s));
  });

  test('what is not over is not called so: the likeliest places, undecided', () => {
    const open = bayResults(new WorkedCar().act({ do: 'ready' }).run(40).kept());
    expect(open).toMatchObject({
      outcome: null,
      parts: [{ code: 'undecided', way: '', doubt_mA: null }],
      next: 'Go on in the bay where it was left.',
    });
    expect(open.parts[0]!.name).toMatch(/radio \d+ %/);
  });

  test('what version 1 kept is read, by a report and to go on with', () => {
    const { session, prepare, ...rest } = JSON.parse(kept.state) as Record<string, Record<string, unknown>>;
    const { list, ...inSession } = session as { list: object };
    const first = {
      ...rest,
      version: 1,
      session: { version: 1, ...inSession, ...list, level: {} },
      prepare: { ...prepare, seen: undefined, proved: undefined },
    };
    const state = JSON.stringify(first);
    expect(bayResults({ entries: kept.entries, state })).toEqual(results);
    expect(HeldWork.resume(state).view.named).toEqual(HeldWork.resume(kept.state).view.named);
  });

  test('a report changes nothing of the work: a pull that was being measured is out', () => {
    const car = new WorkedCar().act({ do: 'ready' }).run(40).act({ do: 'did', what: 'pulled', name: 'F2' });
    const { state, entries } = car.run(2).kept();
    expect(bayResults({ entries, state }).out).toEqual(['fuse F2 (a)']);
    expect(readWork(state).session.log.map(({ code }) => code)).not.toContain('resumed');
  });

  test('what is no work in the bay is refused in a sentence', () => {
    expect(() => bayResults({ entries: [], state: '{"version":9}' })).toThrow(/no work in the bay of this version/);
  });
});
