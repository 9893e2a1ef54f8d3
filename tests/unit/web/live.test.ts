// The arithmetic and the words of the live page.
import { expect, test } from 'vitest';
import type { LivePicture, LiveWindow, Recording } from '../../../host/contract/api.ts';
import { figureOf, withLeft, withPicture, withReadings, withStatus } from '../../../web/live/state.ts';
import type { LiveState } from '../../../web/live/state.ts';
import { pitch_Hz } from '../../../web/live/tone.ts';
import { gapsOf, steadyRange, wantedRange } from '../../../web/live/trace-range.ts';
import {
  doingMeaning,
  doingOf,
  elapsedWords,
  figureWords,
  lineWords,
  roomWords,
  spokenStep,
  stepWords,
} from '../../../web/live/words.ts';

const RECORDING: Recording = {
  name: 'a.nightdraw',
  state: 'recording',
  board: { port: '/dev/x', number: '000000A0', speed: 1 },
  job: '',
  bay: false,
  began_ms: 0,
  recorded_s: 10,
  recordedTo_ms: 0,
  elapsed_s: 10,
  for_s: null,
  current_mA: 20,
  voltage_V: 12.6,
  line: { windows: 200, lost: 0, damaged: 0, goodShare: 1, silent_s: 0 },
  space: { free_bytes: 1, left_s: 1 },
  notes: [],
  trouble: null,
};
const windows = (from: number, to: number, mean_mA = 20): LiveWindow[] =>
  Array.from({ length: to - from }, (_, i) => [(from + i + 1) / 20, 0.05, mean_mA, mean_mA - 1, mean_mA + 1]);
const picture = (recordings: Recording[], shown: LiveWindow[] = []): LivePicture => ({
  recordings,
  traces: recordings.map(({ name }) => ({ name, windows: shown, steps: [] })),
  bays: [],
});

test('windows come once each, and no further back than two minutes', () => {
  let state: LiveState = withPicture(new Map(), picture([RECORDING], windows(0, 100)), 0);
  state = withReadings(state, 'a.nightdraw', windows(90, 130), 1);
  expect(state.get('a.nightdraw')!.windows).toEqual(windows(0, 130));
  state = withReadings(state, 'a.nightdraw', windows(130, 4000), 2);
  expect(state.get('a.nightdraw')!.windows.at(-1)![0] - state.get('a.nightdraw')!.windows[0]![0]).toBeCloseTo(120, 6);
  expect(withReadings(state, 'unheard.nightdraw', windows(0, 1), 3)).toBe(state);
});

test('what ran and is not told of after an interruption is looked for, then left, then found again', () => {
  const before = withPicture(new Map(), picture([RECORDING], windows(0, 20)), 0);
  const after = withPicture(before, picture([]), 5000);
  expect(doingOf(after.get('a.nightdraw')!, true, 5000)).toBe('cut');
  expect(doingMeaning('cut', after.get('a.nightdraw')!, 5000)).toMatch(/started again.*looks for this board/);
  const left = withLeft(after, new Set(['a.nightdraw']));
  expect(doingMeaning('cut', left.get('a.nightdraw')!, 5000)).toMatch(/does not record this board.*resume below/);
  expect(withStatus(left, RECORDING).get('a.nightdraw')).toMatchObject({ missing: 'no', windows: windows(0, 20) });
});

test('a state is told from what was heard, not from what was said last', () => {
  const one = withReadings(withStatus(new Map(), RECORDING), RECORDING.name, windows(0, 20), 1000).get(RECORDING.name)!;
  expect([1000, 2500, 2501].map((now_ms) => doingOf(one, true, now_ms))).toEqual(['live', 'live', 'silent']);
  expect(doingOf(one, false, 1000)).toBe('cut');
  expect(doingOf({ ...one, recording: { ...RECORDING, state: 'away' } }, true, 1000)).toBe('silent');
  expect(doingOf({ ...one, recording: { ...RECORDING, state: 'failed' } }, false, 1000)).toBe('failed');
});

test('the figure is the mean of the last half second, by time', () => {
  expect(figureOf([])).toBeNull();
  expect(figureOf([...windows(0, 20, 100), ...windows(20, 30, 40)])).toBeCloseTo(40, 9);
  expect(figureOf([...windows(0, 25, 100), ...windows(25, 30, 40)])).toBeCloseTo(70, 9);
  expect(figureOf([[10, 8, 7, 6, 8]])).toBe(7);
  expect(figureWords(null)).toEqual({ number: '', unit: 'no reading' });
  expect(figureWords(-1234)).toEqual({ number: '\u22121.23', unit: 'A' });
});

test('words', () => {
  expect([0, 59.9, 65, 3599, 3600, 8585].map(elapsedWords)).toEqual([
    '0 s',
    '59 s',
    '1 min 05 s',
    '59 min 59 s',
    '1:00:00 h',
    '2:23:05 h',
  ]);
  expect([1, 0.9995, 0.98, 0.5, null].map((goodShare) => lineWords({ ...RECORDING.line, goodShare }).word)).toEqual([
    'good',
    'good',
    'fair',
    'poor',
    'not known yet',
  ]);
  expect(lineWords({ ...RECORDING.line, lost: 1, damaged: 2, goodShare: 0.99996 }).more).toBe(
    '1 line lost, 2 damaged; 99.9 % well in the last minute',
  );
  expect(roomWords({ free_bytes: 1, left_s: 3 * 86_400 + 5 })).toBe('3 days');
  expect(roomWords({ free_bytes: null, left_s: null })).toBe('not known');
  const step = { t_s: 1, from_mA: 640, to_mA: 180 };
  expect([stepWords(step), spokenStep(step)]).toEqual([
    '\u2212460 mA, now 180 mA',
    'Down 460 milliamps. Now 180 milliamps.',
  ]);
  expect(spokenStep({ t_s: 1, from_mA: 20, to_mA: -2400 })).toBe('Down 2.4 amps. Now minus 2.4 amps.');
});

test('the tone rises with the current, 15 semitones for a tenfold one, and stays within what is heard', () => {
  expect(pitch_Hz(0)).toBe(110);
  expect(Math.log2(pitch_Hz(999) / pitch_Hz(99))).toBeCloseTo(1.25, 9);
  expect(12 * Math.log2(pitch_Hz(110) / pitch_Hz(100))).toBeGreaterThan(0.5);
  expect(pitch_Hz(1e9)).toBe(4000);
  expect(pitch_Hz(-50)).toBe(pitch_Hz(50));
});

test('the trace opens at once, closes in late, and shows at least a tenth of the level', () => {
  const quiet = wantedRange(windows(0, 40, 400), 0, 'linear');
  expect(quiet.high_mA - quiet.low_mA).toBeGreaterThanOrEqual(40);
  expect(wantedRange([], 0, 'linear')).toEqual({ low_mA: 0, high_mA: 100 });
  expect(steadyRange(quiet, { low_mA: 0, high_mA: 900 })).toEqual({ low_mA: 0, high_mA: 900 });
  expect(steadyRange({ low_mA: 0, high_mA: 100 }, { low_mA: 10, high_mA: 70 })).toEqual({ low_mA: 0, high_mA: 100 });
  expect(steadyRange({ low_mA: 0, high_mA: 100 }, { low_mA: 10, high_mA: 60 })).toEqual({ low_mA: 10, high_mA: 60 });
});

test('gaps within and at the end are found, short spacings are none', () => {
  const torn = [...windows(0, 20), ...windows(60, 80)];
  const [[from_s, to_s] = [], ...more] = gapsOf(torn, 0, 4);
  expect([from_s, to_s, more]).toEqual([1, expect.closeTo(3, 9), []]);
  expect(gapsOf(windows(0, 20), 0, 5)).toEqual([[1, 5]]);
  expect(gapsOf([...windows(0, 20), ...windows(30, 40)], 0, 2)).toEqual([]);
});
