// What the technician does and says, and what that comes to: something came out and is
// measured with its doubt against the 10 mA that mean nothing, a voltage was read, a
// question is answered, a circuit is not to be touched, the last one was wrong.

import { counted, current } from '../../say/quantities.ts';
import { FLICKER_mA } from '../search/level.ts';
import type { Level } from '../search/level.ts';
import { testName } from '../search/planner.ts';
import { unknownParts } from '../tree/care.ts';
import { currentFromDrop, SOURCE_WORDS } from '../tree/fuses.ts';
import { isBehind, partCount } from '../tree/tree.ts';
import { smallestSought_mA } from './conclude.ts';
import { doubtLast, redo } from './levels.ts';
import { isDark, isTest, nameOf, proposedTest, timesDone, treeOf } from './session-state.ts';
import type { PhaseOf, Session, TestKind } from './session-state.ts';
import {
  ask,
  awaitLevel,
  count,
  fellByItself,
  fits,
  go,
  isOut,
  lastLevel,
  levelBefore,
  LOOK_s,
  measureFall,
  near,
  note,
  noteOn,
  observe,
  PATIENCE_s,
  propose,
  putOut,
  refit,
  replan,
  withoutForbidden,
  withoutOut,
  withoutSeen,
} from './steps.ts';

/** Contacts and inrush after a pull are over then. */
const BOUNCE_s = 2;
/** A measurement that is not sure goes on for this long. */
const LOOK_s_MAX = 30;
/** A fall that was noticed is asked about if no tap follows. */
export const TAP_WAIT_s = 15;
/** A fall smaller than expected is watched for this long: it may grow. */
const LESS_s = 75;

type Measuring = PhaseOf<'measuring'>;

/** How it is said that something came out. */
export const OUT_WORD = { pull: 'pulled', unplug: 'unplugged' } as const;

/** What a change says against the flicker. */
export function saysOf(change_mA: number, sigma_mA: number): 'draws' | 'nothing' | 'not sure' {
  if (change_mA - 2 * sigma_mA > FLICKER_mA) return 'draws';
  return change_mA + 2 * sigma_mA < FLICKER_mA + 2 ? 'nothing' : 'not sure';
}

/** A reading while something that came out is measured. */
export function whileMeasuring(state: Session, phase: Measuring): Session {
  const looked_s = state.now_s - phase.at_s - BOUNCE_s;
  if (looked_s < LOOK_s) return state;
  const level = lastLevel(state, looked_s > 2 * LOOK_s ? 2 * LOOK_s : LOOK_s);
  if (level === null) return state;
  const change_mA = phase.before_mA - level.mean_mA;
  const sigma_mA = Math.hypot(phase.beforeSigma_mA, level.sigma_mA);
  if (!level.still || change_mA < -(FLICKER_mA + 2))
    return looked_s > PATIENCE_s ? giveUpMeasuring(state, phase, level) : state;
  const says = saysOf(change_mA, sigma_mA);
  if (says === 'not sure' && looked_s < LOOK_s_MAX) return state;
  // Less than what is looked for here: taking it out may have woken the car for a while.
  const next = state.plan[0];
  const expected_mA = next?.node === phase.node && next.share >= (says === 'nothing' ? 0.5 : 0.1) ? next.amount_mA : 0;
  const less = expected_mA - change_mA > Math.max(1.5 * FLICKER_mA, 0.2 * change_mA);
  if (less && says !== 'not sure' && looked_s < LESS_s) return state;
  const certain = says === 'draws' && !justDisturbed(state) && fits(state, phase.node, change_mA, 0.25);
  if (phase.tapped || certain) return measured(state, phase, { change_mA, sigma_mA, level });
  if (says !== 'draws') return propose(state);
  // The tap may be under way.
  if (looked_s < TAP_WAIT_s) return state;
  return ask(state, { question: 'was-it', node: phase.node, other: null, before_mA: phase.before_mA });
}

/** Taking off a draw can wake a car for a minute or more; when that ends, the draw falls again. */
const justDisturbed = ({ observations, now_s }: Session) =>
  observations.some((one) => isTest(one) && one.amount_mA > 2 * FLICKER_mA && now_s - one.t_s < PATIENCE_s);

function giveUpMeasuring(state: Session, { kind, node }: Measuring, level: Level): Session {
  const text = `the current did not settle after ${nameOf(state, node)} was pulled: no result`;
  const next = count(note(state, 'restless', text), kind, node);
  return awaitLevel({ ...putOut(next, node, 0), base_mA: level.mean_mA });
}

/** What a measurement came to. */
type Fall = { change_mA: number; sigma_mA: number; level: Level };

function measured(before: Session, { kind, node }: Measuring, { change_mA, sigma_mA, level }: Fall): Session {
  const times = timesDone(before, kind, node);
  const doubtful = change_mA > 2 * FLICKER_mA && !fits(before, node, change_mA, 0);
  let state = observe(count(before, kind, node), {
    node,
    amount_mA: change_mA,
    sigma_mA,
    how: kind,
    ...(doubtful && { doubtful }),
  });
  state = { ...putOut(state, node, change_mA), base_mA: level.mean_mA };
  state = noteOn(state, 'result', node, `${OUT_WORD[kind]}: ${inWords(change_mA, sigma_mA)}`);
  const unsure = saysOf(change_mA, sigma_mA) === 'not sure';
  // Worth another go only where it could be what is looked for.
  if (doubtful && partCount(treeOf(state), node) === 1 && times < 2)
    state = note(
      { ...state, repeat: { kind, node } },
      'doubtful',
      `not the fall that was looked for, the car may have done it by itself: ${nameOf(state, node)} goes in again, to see the draw come back`,
    );
  else if (unsure && times === 0 && change_mA + 2 * sigma_mA > 0.5 * smallestSought_mA(state))
    state = { ...state, repeat: { kind, node } };
  return replan(state);
}

function inWords(change_mA: number, sigma_mA: number): string {
  const size = `${current(Math.abs(change_mA))} (give or take ${current(Math.max(1, 2 * sigma_mA))})`;
  return {
    draws: `the draw fell by ${size}`,
    nothing: 'nothing changed',
    'not sure': `not sure: ${size}, and 10 mA mean nothing`,
  }[saysOf(change_mA, sigma_mA)];
}

/** What is asked for now came out, as a tap says. */
export function tookOutAsked(state: Session): Session {
  const next = proposedTest(state);
  return next === null ? state : tookOut(state, next.kind, next.node);
}

/** A fuse or a part came out, as somebody says: it is measured from now on. */
export function tookOut(state: Session, kind: TestKind, node: number): Session {
  const { phase, base_mA } = state;
  if (phase.name === 'measuring' && phase.node === node) return state;
  if (base_mA === null || phase.name === 'finished') return outUnmeasured(state, node);
  if (isDark(state, node)) return noteOn(state, 'dark', node, 'has no feed now: nothing can be told from it');
  const before = levelBefore(state);
  const good = before !== null && before.still && near(before.mean_mA, base_mA);
  return go(state, {
    name: 'measuring',
    kind,
    node,
    at_s: state.now_s,
    tapped: true,
    before_mA: good ? before.mean_mA : base_mA,
    beforeSigma_mA: good ? before.sigma_mA : FLICKER_mA / 2,
  });
}

/** Nothing can be told from it, but it must not be forgotten outside. */
function outUnmeasured(state: Session, node: number): Session {
  if (isOut(state, node)) return state;
  const text = 'is out; the draw was not being measured, so nothing can be told from it';
  return noteOn(putOut(state, node, 0), 'out', node, text);
}

/** The search ends while something that came out was being measured. */
export const leftMeasuring = (state: Session, { tapped, node }: Measuring): Session =>
  tapped ? outUnmeasured(state, node) : state;

/** A voltage that was read across a fuse, in mV. */
interface Drop {
  node: number;
  drop_mV: number;
}

/** A fuse carries no more than the whole car draws; so far may the table of resistances be off. */
const OVER_WHOLE = 2;

/** @throws RangeError in words where a voltage tells of more than the whole car draws now */
function notOverWhole(state: Session, node: number, drop_mV: number, low_mA: number): void {
  const whole = lastLevel(state, LOOK_s);
  if (whole === null || low_mA <= OVER_WHOLE * Math.abs(whole.mean_mA) + FLICKER_mA) return;
  throw new RangeError(
    `${drop_mV} mV across ${nameOf(state, node)} would be ${current(low_mA)} or more, but the whole car draws ` +
      `${current(whole.mean_mA)}: is the meter on mV, and are both probes on this fuse? Read it again`,
  );
}

/**
 * A voltage was read across a fuse, in mV.
 * @throws RangeError in words where no fuse in place can have it
 */
export function readDrop(before: Session, node: number, drop_mV: number): Session {
  const { state, reading, dark } = withDrop(before, { node, drop_mV });
  const name = nameOf(state, node);
  if (reading !== null && !dark) notOverWhole(before, node, drop_mV, reading.low_mA);
  if (reading === null) return note(state, 'drop', `no resistance is known for ${name}; its drop tells nothing`);
  if (dark) return noteOn(state, 'dark', node, 'has no feed now: a drop across it tells nothing');
  const { current_mA, low_mA, high_mA, source } = reading;
  const next = note(
    state,
    'drop',
    `${name}: ${drop_mV} mV is ${current(current_mA)} (${low_mA.toFixed(0)} to ${high_mA.toFixed(0)}), resistance ${SOURCE_WORDS[source]}`,
  );
  return state.phase.name === 'proposing' ? replan(next) : next;
}

/**
 * The voltages of a whole box, as one deed: what is believed is worked out once, and one "wrong" takes all back.
 * @throws RangeError in words where no fuse in place can have one; nothing is kept then
 */
export function readBox(before: Session, readings: readonly Drop[]): Session {
  let state = before;
  const told: string[] = [];
  const untold: string[] = [];
  let little = 0;
  // The log only grows.
  const batch = before.log.length;
  for (const one of readings) {
    const { reading, dark, ...after } = withDrop(state, one, batch);
    state = after.state;
    const name = nameOf(state, one.node);
    if (reading === null || dark) untold.push(`${name} ${dark ? 'has no feed now' : 'has no known resistance'}`);
    else if (reading.current_mA < FLICKER_mA) little++;
    else told.push(`${name} ${one.drop_mV} mV, ${current(reading.current_mA)}`);
  }
  const others = told.length === 0 ? String(little) : counted(little, 'other');
  const rest = little === 0 ? [] : [`${others} under ${current(FLICKER_mA)}`];
  const words = `${counted(readings.length, 'voltage')} read: ${[...told, ...rest, ...untold].join('; ')}`;
  const next = note(state, 'drop', words);
  return state.phase.name === 'proposing' ? replan(next) : next;
}

/** A reading counted and, where it tells something, observed; not said yet. */
function withDrop(before: Session, { node, drop_mV }: Drop, batch?: number) {
  const { type, rating_A } = treeOf(before).nodes[node]!;
  const reading = currentFromDrop(type, rating_A, drop_mV, before.options.step_mV ?? 0.1);
  if (reading === null) return { state: before, reading, dark: false };
  const state = count(before, 'drop', node);
  if (isDark(state, node)) return { state, reading, dark: true };
  const { current_mA, sigma_mA } = reading;
  const seen = { node, amount_mA: current_mA, sigma_mA, how: 'drop', drop_mV } as const;
  return { state: observe(state, batch === undefined ? seen : { ...seen, batch }), reading, dark: false };
}

type Asking = PhaseOf<'asking'>;
type Yes = { yes: boolean };

/** Was it the one whose tap came just before? If not, the one that is asked for now is asked about. */
export function answerLateOrNew(state: Session, phase: Asking, { yes }: Yes): Session {
  const { node, other, before_mA } = phase;
  if (yes) return redo(state, node, before_mA);
  return go(state, { ...phase, question: 'was-it', node: other!, other: null });
}

/** Has it just been taken out? */
export function answerWasIt(state: Session, phase: Asking, { yes }: Yes): Session {
  const { node, other, since_s, before_mA } = phase;
  if (!yes) return fellByItself(state);
  if (other !== null) return redo(state, node, before_mA);
  return measureFall(state, { kind: proposedTest(state)?.kind ?? 'pull', node }, before_mA, true, since_s);
}

/** A tap right after the fall is for what is asked for now; long after it, the hand was not there when it fell. */
export function tapWhenAsked(before: Session, phase: Asking): Session {
  if (before.now_s - phase.since_s <= TAP_WAIT_s)
    return answerWasIt(before, { ...phase, node: phase.other ?? phase.node, other: null }, { yes: true });
  const state = note(before, 'fell', 'the draw fell before the tap');
  const level = levelBefore(state);
  if (proposedTest(state) === null || level === null || !level.still) return awaitLevel(state, null, 15);
  // The hand went on with what was asked for: that is measured, from the level of just before.
  const fall_mA = (state.base_mA ?? 0) - level.mean_mA;
  const doubted = fall_mA > 2 * FLICKER_mA ? doubtLast(state, fall_mA) : null;
  return tookOutAsked({ ...(doubted ?? state), base_mA: level.mean_mA });
}

/** Is it really in again? */
export function answerBackIn(state: Session, { node }: Asking, { yes }: Yes): Session {
  if (!yes) return refit(state, 'bridge-on', node);
  const text = 'is in again, but its draw did not come back: taking it out has reset something behind it';
  return awaitLevel(withoutOut(noteOn(state, 'vanished', node, text), node));
}

/** `yes`: it is a restraint or high-voltage circuit. Of several, each is asked about then. */
export function answerWhatFeeds(state: Session, phase: Asking, { yes }: Yes): Session {
  const { kind } = state.plan[0]!;
  const { node, other } = phase;
  const parts = other !== null ? [other] : kind === 'refit' ? [] : unknownParts(treeOf(state), kind, node);
  if (yes && parts.length > 1) return go(state, { ...phase, other: parts[0]! });
  const said = yes ? 'restricted' : 'cleared';
  const list = { ...state.list, [said]: [...state.list[said], ...parts] };
  const names = parts.map((part) => nameOf(state, part)).join(', ');
  const text = `${names}: ${yes ? 'a' : 'no'} restraint or high-voltage circuit`;
  return replan(note(withoutForbidden({ ...state, list }), 'feeds', text));
}

/** A fuse or part is to be left alone, or no longer. */
export function mark(state: Session, node: number, alone: boolean): Session {
  const list = { ...state.list, alone: { ...state.list.alone, [node]: alone } };
  const text = alone ? 'is left alone' : 'is no longer left alone';
  return noteOn(withoutForbidden({ ...state, list }), 'alone', node, text);
}

/** What is proposed, or asked about before it is, cannot be done here. */
export function skip(state: Session): Session {
  const next = state.plan[0];
  if (next === undefined) return state;
  const { kind, node } = next;
  const done = kind === 'refit' ? state.done : { ...state.done, [testName(kind, node)]: 99 };
  return replan(note({ ...state, done }, 'skipped', `not here: ${nameOf(state, node)}`));
}

/** "That was wrong": the last result is taken back. Levels were measured, not done, and stay. */
export function takeBack(before: Session): Session {
  const last = before.observations.findLast(({ how }) => how !== 'total' && how !== 'level');
  if (last === undefined) return note(before, 'wrong', 'there is nothing to take back');
  if (last.batch !== undefined) return takeBoxBack(before, last.batch);
  const { how, node, amount_mA } = last;
  const tree = treeOf(before);
  const named = before.named.filter((one) => !isBehind(tree, one.node, node));
  const without = count({ ...withoutSeen(before, last), repeat: null, named }, how, node, -1);
  const state = tookBack(without, nameOf(before, node));
  if (how === 'drop' && state.phase.name === 'proposing') return replan(state);
  const next = withoutOut(state, node);
  return awaitLevel(how === 'refit' ? putOut(next, node, amount_mA) : next);
}

/** What was taken down together is taken back together. */
function takeBoxBack(before: Session, batch: number): Session {
  const box = before.observations.filter((one) => one.batch === batch);
  const state = box.reduce((left, one) => count(withoutSeen(left, one), 'drop', one.node, -1), before);
  const next = tookBack(state, counted(box.length, 'voltage'));
  return state.phase.name === 'proposing' ? replan(next) : awaitLevel(next);
}

export const tookBack = (state: Session, what: string) => note(state, 'wrong', `taken back: ${what}`);
