// Preparing and connecting, worked through item by item beside the live reading: what
// was ticked, what the reading showed meanwhile, and the proof load where it is asked for.
// Pure: each takes a state and gives the next. Times in seconds on the session's clock.

import { addReading, beginsBlock, FLICKER_mA, levelBetween, NO_READINGS } from '../search/level.ts';
import type { Level, LevelMemory, TraceReading } from '../search/level.ts';
import { PREPARATION, sightOf } from './preparation.ts';
import type { ItemSight, PreparationReadings, Seen } from './preparation.ts';
import { checkProof } from './proof-load.ts';
import type { ProofResult } from './proof-load.ts';

/** A level is taken over this. */
const LOOK_s = 8;

export interface ProofState {
  step: 'before' | 'connect' | 'with' | 'remove';
  resistor_Ohm: number;
  tolerance_percent: number;
  before: Level | null;
  since_s: number;
  result: ProofResult | null;
}

/** Plain data, never changed, kept with the session. */
export interface PrepareState {
  /** How many items are done; all of them once the pulling begins. */
  readonly at: number;
  /** What the readings showed of each item that was gone through. */
  readonly seen: readonly Seen[];
  readonly battery_V: number | null;
  readonly bridged: Level | null;
  readonly bridgeOff: Level | null;
  /** When the bridge came off. */
  readonly off_s: number | null;
  readonly proof: Readonly<ProofState> | null;
  /** What the last proof load came to. */
  readonly proved: { t_s: number; sentence: string } | null;
  readonly memory: LevelMemory;
  /** The level that holds, and since when. */
  readonly held: { from_s: number; mean_mA: number } | null;
}

export const NOT_PREPARED: PrepareState = {
  at: 0,
  seen: [],
  battery_V: null,
  bridged: null,
  bridgeOff: null,
  off_s: null,
  proof: null,
  proved: null,
  memory: NO_READINGS,
  held: null,
};

export const isPrepared = ({ at }: PrepareState): boolean => at >= PREPARATION.length;

const levelNow = ({ memory }: PrepareState, now_s: number): Level | null =>
  levelBetween(memory, now_s - LOOK_s - 0.5, now_s);

/** What a reading shows of the preparation and the proof load. */
export function readPreparing(before: PrepareState, now_s: number, reading: TraceReading): PrepareState {
  const memory = addReading(before.memory, reading);
  const read = { ...before, memory };
  const level = beginsBlock(before.memory, memory) ? levelNow(read, now_s) : null;
  if (level === null) return read;
  const { bridged, bridgeOff, off_s, at } = before;
  const { mean_mA } = level;
  let { held } = before;
  if (held === null || Math.abs(mean_mA - held.mean_mA) > Math.max(FLICKER_mA + 2, 0.03 * held.mean_mA))
    held = { from_s: now_s, mean_mA };
  const state = { ...read, held };
  if (off_s !== null && bridgeOff === null && now_s - off_s > LOOK_s + 1) return { ...state, bridgeOff: level };
  // The hand is quicker than the reading: the bridge may have come on just before, and be off before that is said.
  if (PREPARATION[at]?.id === 'bridge-off' && (bridged === null || mean_mA < bridged.mean_mA)) state.bridged = level;
  return cameOffLate(state, now_s, level) ? { ...state, bridgeOff: level } : readProof(state, now_s, level);
}

/** The bridge was said to be off, and is so only now; or the board was turned round. */
function cameOffLate(state: PrepareState, now_s: number, level: Level): boolean {
  if (state.bridgeOff === null || isPrepared(state)) return false;
  const seen = (bridgeOff: Level) => sightOf('bridge-off', { ...readingsOf(state, now_s), bridgeOff }).seen;
  return seen(state.bridgeOff) === 'no' && seen(level) === 'yes';
}

function readingsOf(state: PrepareState, now_s: number): PreparationReadings {
  const { battery_V, bridged, bridgeOff, held } = state;
  const held_s = held === null ? 0 : now_s - held.from_s;
  return { battery_V, bridged, bridgeOff, now: levelNow(state, now_s), held_s };
}

/** What the readings show of the item that is asked for. */
export const sightNow = (state: PrepareState, now_s: number): ItemSight =>
  sightOf(PREPARATION[state.at]!.id, readingsOf(state, now_s));

/** The item that is asked for is done. @returns also what was seen of it, for the log */
export function tickItem(before: PrepareState, now_s: number): { prepare: PrepareState; words: string } {
  const { id, text } = PREPARATION[before.at]!;
  const done = {
    // The board has just come in, under the bridge.
    ...(id === 'board-in' && { bridged: levelNow(before, now_s) }),
    ...(id === 'bridge-off' && { off_s: now_s, memory: NO_READINGS }),
  };
  const state = { ...before, ...done };
  const sight = sightNow(state, now_s);
  return {
    prepare: { ...state, at: state.at + 1, seen: [...state.seen, sight.seen] },
    words: `${text} Seen by the program: ${sight.seen} (${sight.text})`,
  };
}

/** @throws RangeError in words where no such resistor can be used */
export function startProof(
  state: PrepareState,
  now_s: number,
  resistor_Ohm: number,
  tolerance_percent: number,
): PrepareState {
  const proof: ProofState = {
    step: 'before',
    resistor_Ohm,
    tolerance_percent,
    before: null,
    since_s: now_s,
    result: null,
  };
  const some: Level = { mean_mA: 0, sigma_mA: 1, still: true, length_s: LOOK_s };
  proofOf(proof, some, some, state.battery_V ?? 12);
  return { ...state, proof };
}

function proofOf({ resistor_Ohm, tolerance_percent }: ProofState, before: Level, loaded: Level, battery_V: number) {
  return checkProof({
    before_mA: before.mean_mA,
    beforeSigma_mA: before.sigma_mA,
    with_mA: loaded.mean_mA,
    withSigma_mA: loaded.sigma_mA,
    battery_V,
    resistor_Ohm,
    tolerance_percent,
  });
}

function readProof(state: PrepareState, now_s: number, level: Level): PrepareState {
  const { proof, battery_V } = state;
  if (proof === null || !level.still || now_s - proof.since_s < LOOK_s + 2) return state;
  if (proof.step === 'before') return { ...state, proof: { ...proof, before: level, step: 'connect' } };
  if (proof.step !== 'with' || battery_V === null) return state;
  const result = proofOf(proof, proof.before!, level, battery_V);
  return { ...state, proof: { ...proof, result, step: 'remove' } };
}

/** The resistor is on, or off again: then `proved` is what it came to. */
export function tapProof(state: PrepareState, now_s: number): PrepareState {
  const { proof } = state;
  if (proof?.step === 'connect') return { ...state, proof: { ...proof, step: 'with', since_s: now_s } };
  if (proof?.step !== 'remove') return state;
  return { ...state, proof: null, proved: { t_s: now_s, sentence: proof.result!.sentence } };
}
