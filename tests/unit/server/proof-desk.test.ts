// Proving from the page: what is asked, what an answer does, and who may not.
import { describe, expect, test } from 'vitest';
import type { Board } from '../../../host/contract/api.ts';
import type { Certificate, Hello, WindowReading } from '../../../host/contract/capture.ts';
import { certificateOf } from '../../../host/prove/verdict.ts';
import { STEP_WORDS } from '../../../host/prove/steps.ts';
import { ProofDesk } from '../../../host/server/live/proof-desk.ts';
import type { Workbench } from '../../../host/server/live/workbench.ts';

const HELLO = { sensor: 'ina228', shunt_nOhm: 5_000_000, cal: 'none', cal_gen: 2 } as Hello;
const board = (port: string, recording: string | null = null): Board => ({
  ...{
    port,
    about: null,
    number: '0000000A',
    firmware: '0.4.0',
    sensor: 'ina228',
    checked: null,
    speed: 1,
    trouble: null,
  },
  recording,
});

/** A board that reads so many times what the hands let flow. */
function deskWith(times: number): {
  desk: ProofDesk;
  load: { mA: number };
  closed: () => number;
  listed: Certificate[];
} {
  const load = { mA: 0 };
  let kept: Certificate | null = null;
  let closed = 0;
  const listed: Certificate[] = [];
  const windows = (): WindowReading[] => {
    const mean_uA = Math.round(load.mA * times * 1000);
    const flags = Math.abs(mean_uA) > 7.2e6 ? 8 : 0;
    const window = { kind: 'window', seq: 0, t_us: 0, dur_us: 50_000, count: 47, charge_nC: 0 } as const;
    return Array.from({ length: 40 }, () => ({
      ...window,
      mean_uA,
      min_uA: mean_uA - 900,
      max_uA: mean_uA + 900,
      flags,
    }));
  };
  const bench = {
    prove: (_port: string, by: string) =>
      Promise.resolve({
        told: () => Promise.resolve({ hello: HELLO, statuses: [], boots: 0, clock: null }),
        listen: () =>
          Promise.resolve({
            windows: windows(),
            voltages: [{ kind: 'voltage' as const, seq: 0, t_us: 0, bus_mV: 12_500, temp_mC: 25_000, dropped: 0 }],
          }),
        store: (within: Parameters<typeof certificateOf>[0]) => {
          kept = certificateOf(within, HELLO, by, Date.UTC(2026, 10, 30));
          return Promise.resolve(true);
        },
        kept: () => kept,
        close: () => Promise.resolve(void closed++),
      }),
  } as unknown as Workbench;
  const desk = new ProofDesk(bench, {
    boardList: () => ({ boards: [board('a'), board('b', 'night.nightdraw')] }),
    quiet: () => Promise.resolve(),
    proved: (_port, certificate) => void listed.push(certificate),
  });
  return { desk, load, closed: () => closed, listed };
}

/** Lets what was begun go on until it waits for somebody again. */
const settled = async () => {
  for (let i = 0; i < 30; i++) await Promise.resolve();
};

/** The hands put loads on as they are told, and read the meter. */
async function proved(times: number) {
  const { desk, load, closed, listed } = deskWith(times);
  desk.begin({ port: 'a', by: 'Night shift' });
  const said: string[] = [];
  for (let turn = 0; turn < 30; turn++) {
    await settled();
    const proof = desk.now().proof!;
    said.push(proof.sentence);
    if (proof.state !== 'asking') return { proof, said, closed: closed(), listed };
    const { asked, answer, sentence } = proof;
    const amperes = { rest: 0, series: 2.25, one: 4.4, both: 8.5, moved: 4.4 };
    const step = Object.entries(STEP_WORDS).find(([, words]) => words.sentence === sentence)?.[0];
    if (step !== undefined) load.mA = amperes[step as keyof typeof amperes] * 1000;
    desk.answer({
      asked,
      value: answer === null ? null : answer.unit === 'A' ? load.mA / 1000 : answer.unit === 'V' ? 12.5 : 0,
    });
  }
  throw new Error(`no end: ${said.join(' / ')}`);
}

describe('proving from the page', () => {
  test('a sound board, from the first sentence to its certificate', async () => {
    const { proof, said, closed, listed } = await proved(1.001);
    expect(proof).toMatchObject({ state: 'sound', remedy: null, answer: null, cautions: [] });
    expect(proof.sentence).toBe(
      'The board is sound: checked on 2026-11-30, by Night shift, within 0.1 % of the meter and 0 mA at rest. It keeps that, and so does each of its captures.',
    );
    expect(said[0]).toBe(STEP_WORDS.rest.sentence);
    expect(closed).toBe(1);
    expect(listed).toEqual([expect.objectContaining({ by: 'Night shift' })]);
  });

  test('one with its sense leads swapped: what is likely, and what to do', async () => {
    const { proof, said, listed } = await proved(-1);
    expect(proof).toMatchObject({
      state: 'not-sound',
      remedy: expect.stringMatching(/^Change the two thin leads/) as string,
    });
    expect(said).not.toContain(STEP_WORDS.one.sentence);
    expect(listed).toEqual([]);
  });

  test('no port that was not found, none that is recorded, one at a time; another kind of answer is refused', async () => {
    const { desk, closed } = deskWith(1);
    expect(desk.now().proof).toBeNull();
    expect(() => desk.begin({ port: '/dev/null' })).toThrow(/was found/);
    expect(() => desk.begin({ port: 'b' })).toThrow(/being recorded/);
    desk.begin({ port: 'a' });
    expect(() => desk.begin({ port: 'a' })).toThrow(/being proved already/);
    await settled();
    const { asked } = desk.now().proof!;
    expect(() => desk.answer({ asked, value: 3 })).toThrow(/another kind/);
    // To a sentence that is gone: nothing.
    expect(desk.answer({ asked: asked - 1, value: null }).proof).toMatchObject({ asked, state: 'asking' });
    desk.answer({ asked, value: null });
    await settled();
    const next = desk.now().proof!;
    expect(desk.answer({ asked, value: null }).proof).toEqual(next);
    expect((await desk.leave()).proof).toMatchObject({ state: 'left' });
    expect(closed()).toBe(1);
    desk.begin({ port: 'a' });
    await desk.close();
    expect(closed()).toBe(2);
  });
});
