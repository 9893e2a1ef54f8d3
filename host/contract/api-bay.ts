// The HTTP interface, third part: work in the bay beside a recording.

import { z } from 'zod';
import { READINGS_MAX, TREE_LENGTH_MAX } from './limits.ts';
import { captureName, typedText } from './names.ts';

const treeText = z.string().min(1, 'is empty').max(TREE_LENGTH_MAX, `is longer than ${TREE_LENGTH_MAX} characters`);

/** What may be told of a circuit beside what is measured; how far each is believed: host/bay/search/evidence.ts. */
const evidenceKind = z.enum(['fault code', 'switch state', 'shared bus', 'night family', 'function test', 'other']);

/** What work in the bay begins with. */
export const bayStart = z.strictObject({
  /** CSV text, columns box, position, rating, type, feeds. */
  tree: treeText,
  /** What the car may draw; absent: 50 mA. */
  allowance_mA: z.number().min(0.1).max(10_000).optional(),
  /** The meter's last digit, mV; null: no meter, nothing is read across fuses. Absent: 0.1 mV. */
  meter_mV: z.number().min(0.001).max(10).nullable().optional(),
});

export const treeQuestion = z.strictObject({ tree: treeText });

const complaint = z.object({ line: z.int(), text: z.string() });

/** A tree that was looked over; with complaints it cannot be used. */
export const treeAnswer = z.object({
  fuses: z.int(),
  relays: z.int(),
  parts: z.int(),
  complaints: z.array(complaint),
  warnings: z.array(complaint),
});

const name = typedText(200).min(1, 'is empty');

/**
 * The sentence that was answered, as it was shown. Where another is asked by now, after a reading or by another device,
 * nothing is done, and what comes back is that.
 */
const asked = z.string().max(1000).optional();
/** With it, `answered` of the view that was shown: the same sentence may be asked once more. */
const answered = z.int().min(0).optional();

/**
 * Something done or read at the car. `name`: a fuse or part of the tree, `box/position` where several are called so.
 */
export const bayAction = z.discriminatedUnion('do', [
  z.strictObject({ do: z.enum(['tap', 'yes', 'no', 'wrong', 'skip', 'ready', 'give-up']), asked, answered }),
  z.strictObject({ do: z.literal('bridge'), on: z.boolean() }),
  z.strictObject({
    do: z.literal('drop'),
    drop_mV: z.number().min(-10_000).max(10_000),
    name: name.optional(),
    asked,
    answered,
  }),
  /** Voltages of a whole box, as they were typed: all are kept or none, and one `wrong` takes them back. */
  z.strictObject({
    do: z.literal('drops'),
    readings: z
      .array(z.strictObject({ name, written: typedText(20) }))
      .min(1)
      .max(READINGS_MAX),
  }),
  z.strictObject({ do: z.literal('did'), what: z.enum(['pulled', 'unplugged', 'refitted']), name }),
  z.strictObject({
    do: z.literal('evidence'),
    name,
    kind: evidenceKind,
    text: typedText(200),
    source: typedText(200),
    odds: z.number().positive().optional(),
  }),
  z.strictObject({ do: z.literal('alone'), name: name.optional(), alone: z.boolean() }),
  z.strictObject({
    do: z.literal('proof'),
    resistor_Ohm: z.number().positive().max(1e6),
    tolerance_percent: z.number().min(0).max(50).optional(),
  }),
  z.strictObject({ do: z.literal('tick'), id: typedText(40), ticked: z.boolean() }),
]);

const amount = { amount_mA: z.number() };

/** The feed tree that work goes by, from beginning to end; `bayView.feed` tells of its nodes by number. */
export const feedTree = z.object({
  nodes: z.array(
    z.object({
      /** As `bayAction` takes it. */
      name: z.string(),
      kind: z.enum(['fuse', 'relay', 'part']),
      box: z.string(),
      rating_A: z.number().nullable(),
      /** Null where the battery feeds it. */
      parent: z.int().nullable(),
      /** Whether a voltage across it tells a current: the resistance of such a fuse is known. */
      readable: z.boolean(),
    }),
  ),
});

const nodes = z.array(z.int());

/** What is known of each node of the feed tree. */
const feedState = z.object({
  /** A letter a node: `n` named, `p` a draw may be there, `r` ruled out as far as was measured, `o` nothing known. */
  states: z.string(),
  /** Nodes with 1 % or more, and how likely the draw that is likeliest there lies behind them, in whole per cent. */
  shares: z.array(z.tuple([z.int(), z.int()])),
  /** As `named` of the view has them. */
  named: nodes,
  out: nodes,
  alone: nodes,
  /** Restraint and high-voltage circuits, and what feeds them. */
  restricted: nodes,
  /** What is to be done next, and with which node. */
  next: z.object({ kind: z.enum(['drop', 'pull', 'unplug', 'refit']), node: z.int() }).nullable(),
});

/** One thing to do, what may be answered, and what is known so far. */
export const bayView = z.object({
  /** Answers that were taken so far. */
  answered: z.int(),
  stage: z.enum(['preparing', 'pulling', 'closing', 'done']),
  headline: z.string(),
  why: z.string(),
  cautions: z.array(z.string()),
  /** The first is what the large button does. */
  answers: z.array(z.enum(['tap', 'yes', 'no', 'drop', 'skip', 'wrong'])),
  sight: z.string().nullable(),
  step: z.object({ number: z.int(), of: z.int() }).nullable(),
  move: z.object({ kind: z.string(), name: z.string() }).nullable(),
  bridge: z.enum(['on', 'off']),
  out: z.array(z.string()),
  /** Fuses and parts marked to be left alone. */
  alone: z.array(z.string()),
  finished: z.string().nullable(),
  closing: z.array(z.object({ id: z.string(), text: z.string(), ticked: z.boolean() })),
  said: z.array(z.object({ t_s: z.number(), code: z.string(), text: z.string() })),
  wait: z.object({ usually_s: z.number(), most_s: z.number() }).nullable(),
  others: z.array(z.object({ kind: z.string(), name: z.string(), expected_s: z.number() })),
  total_mA: z.number().nullable(),
  named: z.array(z.object({ name: z.string(), way: z.string(), ...amount, sigma_mA: z.number() })),
  sought: z.array(
    z.object({
      ...amount,
      places: z.array(z.object({ name: z.string(), share: z.number(), odds: z.string().nullable() })),
    }),
  ),
  rest_mA: z.number().nullable(),
  feed: feedState,
});

/** Work in the bay beside the recording of that name. */
export const bayOf = z.object({ name: captureName, view: bayView });

export type EvidenceKind = z.infer<typeof evidenceKind>;
export type BayStart = z.infer<typeof bayStart>;
export type BayAction = z.infer<typeof bayAction>;
export type BayView = z.infer<typeof bayView>;
export type BayAnswer = BayView['answers'][number];
export type FeedTreeAnswer = z.infer<typeof feedTree>;
export type FeedState = z.infer<typeof feedState>;
export type TreeAnswer = z.infer<typeof treeAnswer>;
