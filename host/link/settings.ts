// What a recorder wants a board to send, and the commands that bring it there. A boot
// sets them back (firmware/PROTOCOL.md, "Lines from the host"), so they are sent again then.

import type { Hello } from '../contract/capture.ts';
import type { CommandLetter } from './commands.ts';

/** firmware/PROTOCOL.md, command `s`. */
const STREAM_NUMBER = { windows: 0, raw: 1, bursts: 2 } as const;

export type StreamName = keyof typeof STREAM_NUMBER;
export const STREAM_NAMES = Object.keys(STREAM_NUMBER) as StreamName[];

/** firmware/PROTOCOL.md, commands `w` and `t`. */
export const WINDOW_LIMITS_us = { least: 10_000, most: 1_000_000 } as const;
export const TRIGGER_LIMITS_uA = { least: 1000, most: 30_000_000 } as const;

export interface BoardSettings {
  stream: StreamName;
  window_us: number;
  /** What makes a burst. */
  trigger_uA: number;
}

/** What a boot sets: firmware/PROTOCOL.md, "Lines from the host". */
export const AT_BOOT: BoardSettings = { stream: 'windows', window_us: 50_000, trigger_uA: 20_000 };

/** Asked once the board has said who it is; null where it is to stay as it is. */
export type WantedSettings = (hello: Hello) => BoardSettings | null;

/**
 * Bursts cost an emulated board half as much again of its processor's time, which one that runs faster than life does
 * not have.
 */
export const usualStream = ({ speed }: Hello): StreamName => (speed === 1 ? 'bursts' : 'windows');

/** What a night is recorded with where nobody says otherwise. */
export const usualSettings: WantedSettings = (hello) => ({ ...AT_BOOT, stream: usualStream(hello) });

/** Firmware before 0.2 has windows of 50 ms and nothing else; it tells no trigger. */
export const canBeSet = (hello: Hello): boolean => hello.trigger_uA !== undefined;

/** The commands that are needed, in their order; none where all is as it should be. */
export function commandsFor(hello: Hello, wanted: BoardSettings | null): [CommandLetter, number][] {
  if (wanted === null || !canBeSet(hello)) return [];
  const commands: [CommandLetter, number][] = [];
  if (hello.trigger_uA !== wanted.trigger_uA) commands.push(['t', wanted.trigger_uA]);
  if (hello.window_us !== wanted.window_us) commands.push(['w', wanted.window_us]);
  if (hello.stream !== wanted.stream) commands.push(['s', STREAM_NUMBER[wanted.stream]]);
  return commands;
}
