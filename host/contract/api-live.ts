// The HTTP interface, second part: boards, recordings, and the events of the live stream.

import { z } from 'zod';
import { bayOf, bayStart } from './api-bay.ts';
import { captureName, typedText } from './names.ts';

export const board = z.object({
  port: z.string(),
  /** Maker or product of the port's converter, where the system tells. */
  about: z.string().nullable(),
  /** The board's own number, eight hex digits; null: no board answers there. */
  number: z.string().nullable(),
  firmware: z.string().nullable(),
  sensor: z.string().nullable(),
  /** What its certificate says, in words; null: it was not proved. */
  checked: z.string().nullable(),
  /** Seconds of its time in one of ours: 1 but for an emulated board. */
  speed: z.number(),
  /** Why it cannot be recorded, with what to do; null where it can. */
  trouble: z.string().nullable(),
  /** Name of the capture that it is being recorded into. */
  recording: captureName.nullable(),
});

export const boardList = z.object({
  boards: z.array(board),
  /** Ports are being opened now; this takes some seconds. */
  searching: z.boolean(),
  /** When the list was made, milliseconds since 1970; null: nobody has looked yet. */
  searched_ms: z.number().nullable(),
  /** Why there is no list. */
  trouble: z.string().nullable(),
});

/** A recording is begun (`port`), or an unfinished capture gone on with (`resume`, which finds its board by itself). */
export const recordOrder = z.union([
  z.strictObject({
    port: z.string().min(1).max(255),
    job: typedText(500).optional(),
    plate: typedText(40).optional(),
    vehicle: typedText(120).optional(),
    customer: typedText(200).optional(),
    /** Length in the car's time; absent: until it is stopped. */
    for_s: z
      .number()
      .positive()
      .max(31 * 86_400)
      .optional(),
    /** With work in the bay beside it. A capture that holds such work is gone on with it by itself. */
    bay: bayStart.optional(),
  }),
  z.strictObject({ resume: captureName }),
]);

/** `away`: the board says nothing at the moment; recording goes on when it is back. */
export const recordingState = z.enum(['starting', 'recording', 'away', 'stopping', 'ended', 'failed']);

export const recording = z.object({
  name: captureName,
  state: recordingState,
  board: z.object({ port: z.string(), number: z.string().nullable(), speed: z.number() }),
  job: z.string(),
  /** There is work in the bay beside it. */
  bay: z.boolean(),
  /** When it was begun or gone on with, milliseconds since 1970. */
  began_ms: z.number(),
  /** From the first sample to the last one on the disk. */
  recorded_s: z.number(),
  /** Wall clock of that last one; null before the first. */
  recordedTo_ms: z.number().nullable(),
  /** From the first sample to the newest one that came. */
  elapsed_s: z.number(),
  for_s: z.number().nullable(),
  current_mA: z.number().nullable(),
  voltage_V: z.number().nullable(),
  line: z.object({
    windows: z.int(),
    lost: z.int(),
    damaged: z.int(),
    /** Share of the lines of the last minute that came well, 0 to 1; null before there are any. */
    goodShare: z.number().nullable(),
    /** Since anything came from the board. */
    silent_s: z.number(),
  }),
  space: z.object({
    /** Null where the system does not tell. */
    free_bytes: z.number().nullable(),
    /** Recording goes on for so long at least. */
    left_s: z.number().nullable(),
  }),
  /** Newest last. */
  notes: z.array(z.object({ at_ms: z.number(), text: z.string() })),
  /** Why it failed. */
  trouble: z.string().nullable(),
});

export const unfinished = z.object({
  name: captureName,
  job: z.string(),
  board: z.string().nullable(),
  recorded_s: z.number(),
  written_ms: z.number(),
  /** It holds work in the bay. */
  bay: z.boolean(),
});

export const recordingList = z.object({
  recordings: z.array(recording),
  /** Captures whose recorder was stopped hard: they can be gone on with. */
  unfinished: z.array(unfinished),
});

/** One window: end of it on the trace (s), its length (s), mean, minimum, maximum (mA). */
export const liveWindow = z.tuple([z.number(), z.number(), z.number(), z.number(), z.number()]);

/** Something that happened to the current, seen as it happened. */
export const liveStep = z.object({ t_s: z.number(), from_mA: z.number(), to_mA: z.number() });

/** `changes`: only that the list of captures, or how many recordings run, is another; no readings. */
export const liveQuestion = z.strictObject({ only: z.literal('changes').optional() });

/** Events of GET /api/live, by the name that they carry; `data` is one JSON object each. */
export const liveEvents = {
  /** All there is to know, at first and whenever a client was too slow or too long away. */
  picture: z.object({
    recordings: z.array(recording),
    /** By capture: its last windows, up to 120 s, and the steps seen in this recording, the last 100. */
    traces: z.array(z.object({ name: captureName, windows: z.array(liveWindow), steps: z.array(liveStep) })),
    bays: z.array(bayOf),
  }),
  /** The recording changed: at least twice a second while it runs. */
  status: recording,
  /** New windows, in the order that they came; late ones (sent again by the board) are left to the file. */
  readings: z.object({ name: captureName, windows: z.array(liveWindow) }),
  step: z.object({ name: captureName, step: liveStep }),
  /** The work in the bay shows something new. */
  bay: bayOf,
  boards: boardList,
  /**
   * With `only=changes` alone: at first, and whenever the folder or what is known of it is another. `names`: captures
   * that came, went, grew or were read; null: ask for all that is shown. `version`: as in the list of captures.
   */
  changed: z.object({
    version: z.string(),
    names: z.array(captureName).nullable(),
    total: z.int(),
    running: z.int(),
  }),
  /** Every five seconds: who hears none for fifteen should connect again. */
  beat: z.object({ now_ms: z.number() }),
} as const;

export type LiveEventName = keyof typeof liveEvents;
export type Board = z.infer<typeof board>;
export type BoardList = z.infer<typeof boardList>;
export type RecordOrder = z.infer<typeof recordOrder>;
export type Recording = z.infer<typeof recording>;
export type RecordingList = z.infer<typeof recordingList>;
export type Unfinished = z.infer<typeof unfinished>;
export type LiveWindow = z.infer<typeof liveWindow>;
export type LiveStep = z.infer<typeof liveStep>;
export type ListChanged = z.infer<typeof liveEvents.changed>;
export type LivePicture = z.infer<typeof liveEvents.picture>;
