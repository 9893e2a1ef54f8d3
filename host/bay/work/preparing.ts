// Preparing and connecting, worked through item by item beside the live reading: what
// was ticked, what the reading showed meanwhile, and the proof load where it is asked for.
// Pure: each takes a state and gives the next. Times in seconds on the session's clock.

import type { BayAction } from '../../contract/api-bay.ts';
import { addReading, beginsBlock, levelBetween, NO_READINGS } from '../search/level.ts';
import type { Level, LevelMemory, TraceReading } from '../search/level.ts';
import { near } from '../session/steps.ts';
import { PREPARATION, sightOf } from './preparation.ts';
import type { ItemSight, PreparationReadings, Seen } from './preparation.ts';
import { checkProof, checkResistor } from './proof-load.ts';
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
export type Preparing = Readonly<{
  /** How many items are done; all of them once the pulling begins. */
  at: number;
  /** What the readings showed of each item that was gone through. */
  seen: readonly Seen[];
  battery_V: number | null;
  bridged: Level | null;
  bridgeOff: Level | null;
  /** When the bridge came off. */
  off_s: number | null;
  proof: ProofState | null;
  /** What the last proof load came to. */
  proved: { t_s: number; sentence: string } | null;
  memory: LevelMemory;
  /** The level that holds, and since when. */
  held: { from_s: number; mean_mA: number } | null;
}>;

export const NOT_PREPARED: Preparing = {
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

export const isPrepared = ({ at }: Preparing) => at >= PREPARATION.length;

const levelNow = ({ memory }: Preparing, now_s: number): Level | null =>
  levelBetween(memory, now_s - LOOK_s - 0.5, now_s);

/** What a reading shows of the preparation and the proof load. */
export function readPreparing(before: Preparing, now_s: number, reading: TraceReading): Preparing {
  const memory = addReading(before.memory, reading);
  const read = { ...before, memory };
  const level = beginsBlock(before.memory, memory) ? levelNow(read, now_s) : null;
  if (level === null) return read;
  const { bridged, bridgeOff, off_s, at } = before;
  const { mean_mA } = level;
  let { held } = before;
  if (held === null || !near(mean_mA, held.mean_mA)) held = { from_s: now_s, mean_mA };
  const state = { ...read, held };
  if (off_s !== null && bridgeOff === null && now_s - off_s > LOOK_s + 1) return { ...state, bridgeOff: level };
  // The hand is quicker than the reading: the bridge may have come on just before, and be off before that is said.
  if (PREPARATION[at]?.id === 'bridge-off' && (bridged === null || mean_mA < bridged.mean_mA)) state.bridged = level;
  return cameOffLate(state, now_s, level) ? { ...state, bridgeOff: level } : readProof(state, now_s, level);
}

/** The bridge was said to be off, and is so only now; or the board was turned round. */
function cameOffLate(state: Preparing, now_s: number, level: Level): boolean {
  if (state.bridgeOff === null || isPrepared(state)) return false;
  const seen = (bridgeOff: Level) => sightOf('bridge-off', { ...readingsOf(state, now_s), bridgeOff }).seen;
  return seen(state.bridgeOff) === 'no' && seen(level) === 'yes';
}

function readingsOf(state: Preparing, now_s: number): PreparationReadings {
  const { battery_V, bridged, bridgeOff, held } = state;
  const held_s = held === null ? 0 : now_s - held.from_s;
  return { battery_V, bridged, bridgeOff, now: levelNow(state, now_s), held_s };
}

/** What the readings show of the item that is asked for. */
export const sightNow = (state: Preparing, now_s: number): ItemSight =>
  sightOf(PREPARATION[state.at]!.id, readingsOf(state, now_s));

/** The item that is asked for is done. @returns also what was seen of it, for the log */
export function tickItem(before: Preparing, now_s: number): { prepare: Preparing; words: string } {
  const { id, text } = PREPARATION[before.at]!;
  const state = {
    ...before,
    // The board has just come in, under the bridge.
    ...(id === 'board-in' && { bridged: levelNow(before, now_s) }),
    ...(id === 'bridge-off' && { off_s: now_s, memory: NO_READINGS }),
  };
  const sight = sightNow(state, now_s);
  return {
    prepare: { ...state, at: state.at + 1, seen: [...state.seen, sight.seen] },
    words: `${text} Seen by the program: ${sight.seen} (${sight.text})`,
  };
}

/** @throws RangeError in words where no such resistor can be used */
export function startProof(
  state: Preparing,
  since_s: number,
  { resistor_Ohm, tolerance_percent = 1 }: Extract<BayAction, { do: 'proof' }>,
): Preparing {
  checkResistor(state.battery_V ?? 12, resistor_Ohm);
  const proof = { step: 'before', resistor_Ohm, tolerance_percent, before: null, since_s, result: null } as const;
  return { ...state, proof };
}

function readProof(state: Preparing, now_s: number, level: Level): Preparing {
  const { proof, battery_V } = state;
  if (proof === null || !level.still || now_s - proof.since_s < LOOK_s + 2) return state;
  if (proof.step === 'before') return { ...state, proof: { ...proof, before: level, step: 'connect' } };
  if (proof.step !== 'with' || battery_V === null) return state;
  const result = checkProof({ ...proof, before: proof.before!, loaded: level, battery_V });
  return { ...state, proof: { ...proof, result, step: 'remove' } };
}

/** The resistor is on, or off again: then `proved` is what it came to. */
export function tapProof(state: Preparing, now_s: number): Preparing {
  const { proof } = state;
  if (proof?.step === 'connect') return { ...state, proof: { ...proof, step: 'with', since_s: now_s } };
  if (proof?.step !== 'remove') return state;
  return { ...state, proof: null, proved: { t_s: now_s, sentence: proof.result!.sentence } };
}
