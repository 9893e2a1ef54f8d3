// The shipped image in a second emulator that shares nothing with ours (libsimavr, with a
// sense chip of its own in C): the same readings on the same input, to the last bit wherever
// the current is level. So does the image for another controller, built of the same core.
import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { BUILT } from '../build.ts';
import { RAW_FLAG, WINDOW_FLAG } from '../../host/contract/capture.ts';
import type { RawSample, WindowReading } from '../../host/contract/capture.ts';
import { parseLine } from '../../host/link/lines.ts';
import type { Line } from '../../host/link/lines.ts';
import { SOAK } from './length.ts';
import { carOf, command, startRun } from './board-run.ts';

const root = new URL('../..', import.meta.url).pathname;
const scratch = mkdtempSync(join(tmpdir(), 'nightdraw-simavr-'));
afterAll(() => rmSync(scratch, { recursive: true }));

/** Levels through both ranges and back, charging, clipped in both. */
const LEVELS: { at_s: number; mA: number }[] = [
  { at_s: 0, mA: 20 },
  { at_s: 2, mA: 253.7 },
  { at_s: 3, mA: 11_000 },
  { at_s: 4, mA: -1500 },
  { at_s: 5, mA: 6100 },
  { at_s: 6, mA: 40_000 },
  { at_s: 7, mA: 7000 },
  { at_s: 8, mA: 0 },
  { at_s: 9, mA: 4999.9 },
];
const LENGTH_S = SOAK ? 120 : 12;
const COMMANDS = [
  { at_s: 1.3, text: 's 1 1' },
  { at_s: 4.7, text: 'p 2' },
  { at_s: 5.2, text: 'u 3 4c4b41' },
  { at_s: 6.4, text: 'y 4' },
  { at_s: 7.7, text: 's 5 0' },
  { at_s: 8.1, text: 'k 6' },
  { at_s: 9.3, text: 'w 7 4e20' },
];
const IMAGE_OF = {
  atmega328p: join(root, 'firmware/images/nightdraw-atmega328p.hex'),
  atmega1284p: join(BUILT, 'firmware/nightdraw-atmega1284p.hex'),
};
/** Longer than the bytes of a command and its answer take, and than the board's start may differ. */
const NEAR_S = 0.002;

/** The controller of the board with a sense chip that signals either way, and a controller it was only ported to. */
const RUNS = [
  { chip: 'atmega328p', alert: 'pulse' },
  { chip: 'atmega328p', alert: 'held' },
  { chip: 'atmega1284p', alert: 'pulse' },
] as const;

function inSimavr({ chip, alert }: (typeof RUNS)[number]): Line[] {
  const script = [
    ...LEVELS.map(({ at_s, mA }) => `${at_s} current ${mA}`),
    ...COMMANDS.map(({ at_s, text }) => `${at_s} send ${command(text).toString('hex')}`),
  ];
  writeFileSync(join(scratch, 'script'), script.join('\n'));
  const output = execFileSync(
    join(BUILT, 'tests/board/simavr/board'),
    [chip, IMAGE_OF[chip], join(scratch, 'script'), String(LENGTH_S), alert],
    { encoding: 'latin1', maxBuffer: 1 << 28 },
  );
  return output.split('\n').slice(0, -1).map(parseLine);
}

function inOurs(): Line[] {
  const lines: Line[] = [];
  const [asleep, ...earlier] = [...LEVELS].reverse();
  const car = carOf([
    {
      name: 'levels',
      awake: earlier.reverse().map(({ mA }, i) => ({ untilAfterLock_s: LEVELS[i + 1]!.at_s, mA })),
      asleep_mA: asleep!.mA,
    },
  ]);
  const run = startRun({
    car,
    id: 0,
    noise: 0,
    errors: { oscillator_ppm: 0 },
    wire: (line) => (lines.push(parseLine(line)), line),
  });
  for (const { at_s, text } of COMMANDS) {
    run.board.runFor(at_s - run.board.time_s);
    run.board.send(command(text));
  }
  run.board.runFor(LENGTH_S - run.board.time_s);
  return lines;
}

let ours: Line[];
beforeAll(() => {
  ours = inOurs();
}, 600_000);

const of = <K extends Line['kind']>(lines: Line[], kind: K) =>
  lines.filter((line): line is Extract<Line, { kind: K }> => line.kind === kind);

/** Storing a calibration takes 23 bytes of 3.4 ms, and then splits a window. */
const STORING_S = 0.15;

/** Whether nothing changed while the window lasted, nor just before. */
const level = ({ t_us, dur_us }: WindowReading) =>
  ![...LEVELS, ...COMMANDS].some(
    ({ at_s }) => at_s > 0 && at_s > (t_us - dur_us) / 1e6 - STORING_S && at_s < t_us / 1e6 + NEAR_S,
  );

describe.each(RUNS)('$chip in libsimavr, ALERT $alert, and the shipped image in ours', (run) => {
  let theirs: Line[];
  beforeAll(() => {
    theirs = inSimavr(run);
  }, 600_000);

  test('every line is whole', () => {
    expect(of(theirs, 'bad')).toEqual([]);
    expect(of(ours, 'bad')).toEqual([]);
  });

  test('the same hello and limits, the same answers', () => {
    expect(of(ours, 'hello')).not.toEqual([]);
    expect(of(theirs, 'hello')).toEqual(of(ours, 'hello').map((hello) => ({ ...hello, mcu: run.chip })));
    expect(of(theirs, 'limits')).toEqual(of(ours, 'limits'));
    expect(of(theirs, 'refusal')).toEqual(of(ours, 'refusal'));
    const answers = (lines: Line[]) =>
      of(lines, 'answer').map(({ tag, value }) =>
        tag === 2 ? { tag, near: Math.abs(value! / 1e6 - 4.7) < NEAR_S } : { tag, value },
      );
    expect(answers(theirs)).toEqual(answers(ours));
    expect(answers(ours)).toContainEqual({ tag: 2, near: true });
    expect(answers(ours)).toContainEqual({ tag: 6, value: 1 });
    expect(of(theirs, 'status')).toEqual([]);
  });

  test('the same means, extremes and flags to the last bit in every level window', () => {
    const [a, b] = [of(theirs, 'window'), of(ours, 'window')];
    expect(Math.abs(a.length - b.length)).toBeLessThanOrEqual(1);
    let compared = 0;
    for (const window of a) {
      const same = b.find(
        ({ t_us, dur_us }) => Math.abs(t_us - window.t_us) < 2000 && Math.abs(dur_us - window.dur_us) < 4000,
      );
      if (same === undefined || !level(window) || !level(same)) continue;
      const values = ({ mean_uA, min_uA, max_uA, flags }: WindowReading) => ({ mean_uA, min_uA, max_uA, flags });
      expect(values(window)).toEqual(values(same));
      // They start some microseconds apart, so that a conversion may fall to the next window.
      expect(Math.abs(window.count - same.count)).toBeLessThanOrEqual(1);
      compared++;
    }
    expect(compared).toBeGreaterThan(a.length * 0.6);
    const all = a.reduce((bits, window) => bits | window.flags, 0);
    expect(
      all & WINDOW_FLAG.clipped &&
        all & WINDOW_FLAG.wideRange &&
        all & WINDOW_FLAG.rangeSwitched &&
        all & WINDOW_FLAG.negative,
    ).toBeTruthy();
    expect(all & WINDOW_FLAG.conversionMissed).toBe(0);
  });

  test('the same running charge, but for where the steps fall', () => {
    const last = (lines: Line[]) => {
      const { charge_nC, t_us } = of(lines, 'window').at(-1)!;
      return { charge_nC, t_us };
    };
    const [a, b] = [last(theirs), last(ours)];
    const late_nC = 4999.9 * Math.abs(a.t_us - b.t_us); // mA times microseconds
    // Each of the eight steps within one conversion of 1.7 ms at most, of 34 A at most.
    expect(Math.abs(a.charge_nC - b.charge_nC)).toBeLessThan(late_nC + 8 * 34_000 * 1700);
  });

  test('the same raw conversions in every level stretch', () => {
    const values = (lines: Line[]) => {
      const stretches = new Map<string, number>();
      for (const { t_us, units, flags } of of(lines, 'raw').flatMap((raw): RawSample[] => raw.samples)) {
        const near = [...LEVELS, ...COMMANDS].some(({ at_s }) => at_s > 0 && Math.abs(at_s - t_us / 1e6) < 0.02);
        if (!near && !(flags & RAW_FLAG.broken))
          stretches.set(`${units} ${flags}`, (stretches.get(`${units} ${flags}`) ?? 0) + 1);
      }
      return stretches;
    };
    const [a, b] = [values(theirs), values(ours)];
    expect([...a.keys()].sort()).toEqual([...b.keys()].sort());
    for (const [key, count] of a) expect(Math.abs(count - b.get(key)!)).toBeLessThanOrEqual(2);
    expect([...a.values()].reduce((sum, count) => sum + count, 0)).toBeGreaterThan(5000);
  });

  test('the same voltages', () => {
    const values = (lines: Line[]) =>
      of(lines, 'voltage').map(({ seq, temp_mC, dropped }) => ({ seq, temp_mC, dropped }));
    expect(values(theirs)).toEqual(values(ours));
  });
});
