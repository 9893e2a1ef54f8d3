// One result: a fuse or a part came out, or a drop was read. The change is measured with
// its doubt against the 10 mA that mean nothing; what is not sure is watched longer or
// asked for again.

import { FIRST_LOOK_s, LOOK_s, PATIENCE_s } from './session-core.ts';
import { SessionLevels } from './session-levels.ts';
import { smallestSought_mA } from './conclude.ts';
import { currentFromDrop, SOURCE_WORDS } from '../tree/fuses.ts';
import { FLICKER_mA, levelBetween } from '../search/level.ts';
import type { Level } from '../search/level.ts';
import { testName } from '../search/planner.ts';
import type { Phase } from './session-state.ts';
import { called, isBehind, partCount } from '../tree/tree.ts';

/** Contacts and inrush after a pull are over then. */
const BOUNCE_s = 2;
/** A measurement that is not sure goes on for this long. */
const LOOK_s_MAX = 30;
/** A fall that was noticed is asked about if no tap follows. */
export const TAP_WAIT_s = 15;
/** A fall smaller than expected is watched for this long: it may grow. */
const LESS_s = 75;

export class SessionMeasure extends SessionLevels {
  protected measure(phase: Extract<Phase, { name: 'measuring' }>): void {
    const { state } = this;
    const looked_s = state.now_s - phase.at_s - BOUNCE_s;
    if (looked_s < LOOK_s) return;
    const level = this.last(Math.min(looked_s, looked_s > 2 * LOOK_s ? 2 * LOOK_s : LOOK_s));
    if (level === null) return;
    const change = phase.before_mA - level.mean_mA;
    const unsure_mA = Math.hypot(phase.beforeSigma_mA, level.sigma_mA);
    if (!level.still || change < -(FLICKER_mA + 2)) {
      if (looked_s > PATIENCE_s) this.giveUpMeasuring(phase, level);
      return;
    }
    const nothing = change + 2 * unsure_mA < FLICKER_mA + 2;
    const fell = change - 2 * unsure_mA > FLICKER_mA;
    if (!nothing && !fell && looked_s < LOOK_s_MAX) return;
    // Less than what is looked for here: taking it out may have woken the car for a while.
    const expected_mA = this.expected_mA(phase.node, nothing ? 0.5 : 0.1);
    if ((fell || nothing) && looked_s < LESS_s && expected_mA - change > Math.max(1.5 * FLICKER_mA, 0.2 * change))
      return;
    if (!phase.tapped && !fell) return this.propose();
    if (!phase.tapped && (this.justDisturbed() || !this.fits(phase.node, change))) {
      // The tap may be under way.
      if (looked_s < TAP_WAIT_s) return;
      return this.go({
        name: 'asking',
        question: 'was-it',
        node: phase.node,
        other: null,
        since_s: state.now_s,
        before_mA: phase.before_mA,
      });
    }
    this.measured(phase, change, unsure_mA, level, !nothing && !fell);
  }

  protected giveUpMeasuring(phase: Extract<Phase, { name: 'measuring' }>, level: Level): void {
    this.note(
      'restless',
      `no still level after ${called(this.tree, phase.node)} came out; nothing can be told from it`,
    );
    this.count(phase.what === 'pulled' ? 'pull' : 'unplug', phase.node);
    this.state.out.push({ node: phase.node, amount_mA: 0 });
    this.state.base_mA = level.mean_mA;
    this.level(null, FIRST_LOOK_s);
  }

  protected measured(
    phase: Extract<Phase, { name: 'measuring' }>,
    change_mA: number,
    sigma_mA: number,
    level: Level,
    unsure: boolean,
  ): void {
    const { state, tree } = this;
    const how = phase.what === 'pulled' ? 'pull' : 'unplug';
    const before = state.done[testName(how, phase.node)] ?? 0;
    this.count(how, phase.node);
    const doubtful = change_mA > 2 * FLICKER_mA && !this.fits(phase.node, change_mA, 0);
    state.observations.push({
      node: phase.node,
      without: this.missing(phase.node),
      amount_mA: change_mA,
      sigma_mA,
      how,
      t_s: state.now_s,
      ...(doubtful && { doubtful }),
    });
    state.out.push({ node: phase.node, amount_mA: change_mA });
    state.base_mA = level.mean_mA;
    this.note('result', `${called(tree, phase.node)} ${phase.what}: ${inWords(change_mA, sigma_mA)}`);
    // Worth another go only where it could be what is looked for.
    if (doubtful && partCount(tree, phase.node) === 1 && before < 2) {
      this.note(
        'doubtful',
        `not the fall that was looked for, the car may have done it by itself: ${called(tree, phase.node)} goes in again, to see the draw come back`,
      );
      state.repeat = { kind: how, node: phase.node };
    } else if (unsure && before === 0 && change_mA + 2 * sigma_mA > 0.5 * smallestSought_mA(tree, state))
      state.repeat = { kind: how, node: phase.node };
    this.replan();
  }

  protected tookOut(what: 'pulled' | 'unplugged', node: number, tapped: boolean): void {
    const { state } = this;
    if (state.phase.name === 'measuring' && state.phase.node === node) return;
    if (state.base_mA === null || state.phase.name === 'finished') return this.outUnmeasured(node);
    if (state.out.some((one) => isBehind(this.tree, node, one.node)))
      return this.note('dark', `${called(this.tree, node)} has no feed now: nothing can be told from it`);
    const before = levelBetween(state.level, state.now_s - LOOK_s - 1.5, state.now_s - 1);
    const good = before !== null && before.still && this.near(before.mean_mA, state.base_mA);
    this.go({
      name: 'measuring',
      what,
      node,
      at_s: state.now_s,
      tapped,
      before_mA: good ? before.mean_mA : state.base_mA,
      beforeSigma_mA: good ? before.sigma_mA : FLICKER_mA / 2,
    });
  }

  /** The search ends while something that came out was being measured. */
  protected leftMeasuring(): void {
    const { phase } = this.state;
    if (phase.name === 'measuring' && phase.tapped) this.outUnmeasured(phase.node);
  }

  /** Nothing can be told from it, but it must not be forgotten outside. */
  private outUnmeasured(node: number): void {
    if (this.state.out.some((one) => one.node === node)) return;
    this.state.out.push({ node, amount_mA: 0 });
    this.note(
      'out',
      `${called(this.tree, node)} is out; the draw was not being measured, so nothing can be told from it`,
    );
  }

  protected drop(node: number, drop_mV: number): void {
    const { state, tree } = this;
    const { type, rating_A } = tree.nodes[node]!;
    const reading = currentFromDrop(type, rating_A, drop_mV, state.options.step_mV ?? 0.1);
    if (reading === null)
      return this.note('drop', `no resistance is known for ${called(tree, node)}; its drop tells nothing`);
    this.count('drop', node);
    if (state.out.some((one) => isBehind(tree, node, one.node)))
      return this.note('dark', `${called(tree, node)} has no feed now: a drop across it tells nothing`);
    state.observations.push({
      node,
      without: this.missing(node),
      amount_mA: reading.current_mA,
      sigma_mA: reading.sigma_mA,
      how: 'drop',
      t_s: state.now_s,
      drop_mV,
    });
    this.note(
      'drop',
      `${called(tree, node)}: ${drop_mV} mV is ${reading.current_mA.toFixed(0)} mA (${reading.low_mA.toFixed(0)} to ${reading.high_mA.toFixed(0)}), resistance ${SOURCE_WORDS[reading.source]}`,
    );
    if (state.phase.name === 'proposing') this.replan();
  }
}

function inWords(change_mA: number, sigma_mA: number): string {
  const size = `${Math.abs(change_mA).toFixed(0)} mA (give or take ${Math.max(1, 2 * sigma_mA).toFixed(0)})`;
  if (change_mA - 2 * sigma_mA > FLICKER_mA) return `the draw fell by ${size}`;
  if (change_mA + 2 * sigma_mA < FLICKER_mA + 2) return 'nothing changed';
  return `not sure: ${size}, and 10 mA mean nothing`;
}
