// What the live view says, in words: the state of a recording, its line, its battery,
// the room left, and a step as it is called out. Pure.

import { change, counted, current, reading, time, voltage } from '../../host/say/quantities.ts';
import type { LiveStep, Recording } from '../../host/contract/api.ts';
import type { LiveRecording } from './state.ts';

/** A board sends twenty times a second: after so long without a reading the last one is no longer shown as now. */
export const SILENT_S = 1.5;

/** What a board's panel is doing, each with a sign of its own shape. */
export type Doing = 'live' | 'starting' | 'silent' | 'cut' | 'stopping' | 'ended' | 'failed';

const DOING: Record<Doing, string> = {
  live: 'Recording',
  starting: 'Starting',
  silent: 'Board is silent',
  cut: 'Not live',
  stopping: 'Ending',
  ended: 'Ended',
  failed: 'Failed',
};

/** @param connected whether the server is heard */
export function doingOf({ recording, heard_ms, missing }: LiveRecording, connected: boolean, now_ms: number): Doing {
  const { state } = recording;
  if (state === 'ended' || state === 'failed') return state;
  if (!connected || missing !== 'no') return 'cut';
  if (state === 'stopping' || state === 'starting') return state;
  return state === 'away' || heard_ms === null || now_ms - heard_ms > SILENT_S * 1000 ? 'silent' : 'live';
}

export const doingWords = (doing: Doing): string => DOING[doing];

/** One sentence of what that means for whoever stands there; empty where all is well. */
export function doingMeaning(doing: Doing, { recording, heard_ms, missing }: LiveRecording, now_ms: number): string {
  const silent = heard_ms === null ? '' : ` for ${time(Math.max(1, Math.round((now_ms - heard_ms) / 1000)))}`;
  switch (doing) {
    case 'live':
      return '';
    case 'starting':
      return 'The board was found; its first readings are on their way.';
    case 'silent':
      return `Nothing came from the board${silent}. Look at its cable; recording goes on by itself when it is back.`;
    case 'cut':
      return missing === 'no'
        ? 'Readings are out of date: the computer does not answer. What was on its disk is safe.'
        : missing === 'looked-for'
          ? 'nightdraw was started again. It looks for this board, and goes on by itself where it finds it.'
          : 'nightdraw was started again and does not record this board. Check its cable, then resume below.';
    case 'stopping':
      return 'The last readings are being written.';
    case 'ended':
      return `${time(recording.recorded_s)} are in the capture.`;
    case 'failed':
      return `${recording.trouble ?? 'It stopped, no reason given'}. What was on the disk is safe.`;
  }
}

export interface LineWords {
  /** One word for how it is. */
  word: 'good' | 'fair' | 'poor' | 'not known yet';
  more: string;
}

/** Below these shares of good lines in the last minute the line is fair, or poor: ours, no source. */
const GOOD_SHARE = 0.999;
const FAIR_SHARE = 0.97;

export function lineWords({ lost, damaged, goodShare }: Recording['line']): LineWords {
  const more = `${counted(lost, 'line')} lost, ${damaged === 0 ? 'none' : String(damaged)} damaged`;
  if (goodShare === null) return { word: 'not known yet', more };
  const word = goodShare >= GOOD_SHARE ? 'good' : goodShare >= FAIR_SHARE ? 'fair' : 'poor';
  // Rounded down: a line that is not whole never says 100 %.
  return { word, more: `${more}; ${Math.floor(goodShare * 1000) / 10} % well in the last minute` };
}

export function roomWords({ left_s, free_bytes }: Recording['space']): string {
  if (left_s === null || free_bytes === null) return 'not known';
  if (left_s >= 100 * 86_400) return 'over 100 days';
  return left_s >= 2 * 86_400 ? `${Math.floor(left_s / 86_400)} days` : time(left_s);
}

export const voltageWords = (voltage_V: number | null): string =>
  voltage_V === null ? 'not known yet' : voltage(voltage_V);

/** `5 s`, `1 min 05 s`, `2:13:05 h`: never jumps in how it is written while it counts. */
export function elapsedWords(elapsed_s: number): string {
  const seconds = Math.max(0, Math.floor(elapsed_s));
  const two = (n: number) => String(n).padStart(2, '0');
  if (seconds < 60) return `${seconds} s`;
  if (seconds < 3600) return `${Math.floor(seconds / 60)} min ${two(seconds % 60)} s`;
  return `${Math.floor(seconds / 3600)}:${two(Math.floor((seconds % 3600) / 60))}:${two(seconds % 60)} h`;
}

export const stepWords = ({ from_mA, to_mA }: LiveStep): string => `${change(to_mA - from_mA)}, now ${current(to_mA)}`;

/** For a voice: units in full, up and down for the sign. */
export function spokenStep({ from_mA, to_mA }: LiveStep): string {
  const aloud = (value_mA: number) => current(Math.abs(value_mA)).replace(/ mA$/, ' milliamps').replace(/ A$/, ' amps');
  const by_mA = to_mA - from_mA;
  return `${by_mA < 0 ? 'Down' : 'Up'} ${aloud(by_mA)}. Now ${to_mA < 0 ? 'minus ' : ''}${aloud(to_mA)}.`;
}

/** The big figure apart from its unit; where nothing is known words stand there instead. */
export function figureWords(value_mA: number | null): { number: string; unit: string } {
  if (value_mA === null) return { number: '', unit: 'no reading' };
  const [number, unit] = reading(value_mA).split(' ') as [string, string];
  return { number, unit };
}
