// Preparing and connecting, worked through item by item beside the live reading: what
// was ticked, what the reading showed meanwhile, and the proof load where it is asked for.

import { FLICKER_mA, levelBetween, newLevelMemory, takeReading } from '../search/level.ts';
import type { Level, LevelMemory, TraceReading } from '../search/level.ts';
import { PREPARATION, sightOf } from './preparation.ts';
import type { ItemSight, PreparationReadings } from './preparation.ts';
import { checkProof, proofCautions } from './proof-load.ts';
import type { ProofResult } from './proof-load.ts';

/** A level is taken over this. */
const LOOK_s = 8;

export type ProofStep = 'before' | 'connect' | 'with' | 'remove';

export interface ProofState {
  step: ProofStep;
  resistor_Ohm: number;
  tolerance_percent: number;
  before: Level | null;
  since_s: number;
  result: ProofResult | null;
}

/** Plain data, kept with the session. */
export interface PrepareState {
  /** How many items are done; all of them once the pulling begins. */
  at: number;
  battery_V: number | null;
  bridged: Level | null;
  bridgeOff: Level | null;
  /** When the bridge came off. */
  off_s: number | null;
  proof: ProofState | null;
}

export const newPrepare = (): PrepareState => ({
  at: 0,
  battery_V: null,
  bridged: null,
  bridgeOff: null,
  off_s: null,
  proof: null,
});

export class Preparing {
  private readonly memory: LevelMemory = newLevelMemory();
  private now_s = 0;
  private held: { from_s: number; mean_mA: number } | null = null;

  constructor(readonly state: PrepareState) {}

  get done(): boolean {
    return this.state.at >= PREPARATION.length;
  }

  /** @returns whether something happened that the screen should show */
  reading(reading: TraceReading): boolean {
    const { state, memory } = this;
    this.now_s = Math.max(this.now_s, reading.t_s);
    const blocks = memory.blocks.length;
    takeReading(memory, reading);
    if (memory.blocks.length === blocks) return false;
    const level = this.now();
    if (level === null) return false;
    if (
      this.held === null ||
      Math.abs(level.mean_mA - this.held.mean_mA) > Math.max(FLICKER_mA + 2, 0.03 * this.held.mean_mA)
    )
      this.held = { from_s: this.now_s, mean_mA: level.mean_mA };
    if (state.off_s !== null && state.bridgeOff === null && this.now_s - state.off_s > LOOK_s + 1) {
      state.bridgeOff = level;
      return true;
    }
    // The hand is quicker than the reading: the bridge may have come on just before, and be off before that is said.
    if (PREPARATION[state.at]?.id === 'bridge-off' && (state.bridged === null || level.mean_mA < state.bridged.mean_mA))
      state.bridged = level;
    if (this.cameOffLate(level)) {
      state.bridgeOff = level;
      return true;
    }
    return this.proofReading(level);
  }

  /** The bridge was said to be off, and is so only now; or the board was turned round. */
  private cameOffLate(level: Level): boolean {
    if (this.state.bridgeOff === null || this.done) return false;
    const seen = (bridgeOff: Level) => sightOf('bridge-off', { ...this.readings(), bridgeOff }).seen;
    return seen(this.state.bridgeOff) === 'no' && seen(level) === 'yes';
  }

  private now(): Level | null {
    return levelBetween(this.memory, this.now_s - LOOK_s - 0.5, this.now_s);
  }

  readings(): PreparationReadings {
    const { battery_V, bridged, bridgeOff } = this.state;
    return {
      battery_V,
      bridged,
      bridgeOff,
      now: this.now(),
      held_s: this.held === null ? 0 : this.now_s - this.held.from_s,
    };
  }

  sight(): ItemSight | null {
    const item = PREPARATION[this.state.at];
    return item === undefined ? null : sightOf(item.id, this.readings());
  }

  /** The item asked for is done. @returns what was seen of it, for the record */
  tick(): string {
    const { state } = this;
    const item = PREPARATION[state.at]!;
    // The board has just come in, under the bridge.
    if (item.id === 'board-in') state.bridged = this.now();
    if (item.id === 'bridge-off') {
      state.off_s = this.now_s;
      this.memory.blocks = [];
    }
    const { seen, text } = sightOf(item.id, this.readings());
    state.at++;
    return `${item.text} Seen by the program: ${seen} (${text})`;
  }

  /** @throws RangeError in words where no such resistor can be used */
  startProof(resistor_Ohm: number, tolerance_percent: number): void {
    checkProof({
      before_mA: 0,
      beforeSigma_mA: 1,
      with_mA: 0,
      withSigma_mA: 1,
      battery_V: this.state.battery_V ?? 12,
      resistor_Ohm,
      tolerance_percent,
    });
    this.state.proof = {
      step: 'before',
      resistor_Ohm,
      tolerance_percent,
      before: null,
      since_s: this.now_s,
      result: null,
    };
  }

  private proofReading(level: Level): boolean {
    const { proof, battery_V } = this.state;
    if (proof === null || !level.still || this.now_s - proof.since_s < LOOK_s + 2) return false;
    if (proof.step === 'before') {
      proof.before = level;
      proof.step = 'connect';
      return true;
    }
    if (proof.step !== 'with' || battery_V === null) return false;
    proof.result = checkProof({
      before_mA: proof.before!.mean_mA,
      beforeSigma_mA: proof.before!.sigma_mA,
      with_mA: level.mean_mA,
      withSigma_mA: level.sigma_mA,
      battery_V,
      resistor_Ohm: proof.resistor_Ohm,
      tolerance_percent: proof.tolerance_percent,
    });
    proof.step = 'remove';
    return true;
  }

  /** The resistor is on, or off again. @returns the result once that is over */
  tapProof(): ProofResult | null {
    const { proof } = this.state;
    if (proof?.step === 'connect') {
      proof.step = 'with';
      proof.since_s = this.now_s;
    } else if (proof?.step === 'remove') {
      this.state.proof = null;
      return proof.result;
    }
    return null;
  }

  /** What to do for the proof load now; null where none is under way. */
  proofOrder(): { headline: string; cautions: string[] } | null {
    const { proof, battery_V } = this.state;
    if (proof === null) return null;
    const cautions = proofCautions(battery_V ?? 12, proof.resistor_Ohm);
    switch (proof.step) {
      case 'before':
        return { headline: 'Proof load: measuring without it. Touch nothing.', cautions: [] };
      case 'connect':
        return {
          headline: `Connect the ${proof.resistor_Ohm} ohm: fused lead on the battery's positive post, then the chassis.`,
          cautions,
        };
      case 'with':
        return { headline: 'Proof load: measuring with it. Touch nothing.', cautions };
      case 'remove':
        return { headline: `${proof.result!.sentence} Take the resistor off, at the chassis first.`, cautions: [] };
    }
  }
}
