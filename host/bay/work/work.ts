// All work at one car, from the first item of the preparation to the last tick of the
// closing list: what it is told (readings, actions) and what it keeps. The screen of any
// kind shows `workView` of it. Holds no clock, no port, no file.

import { checkedOdds, EVIDENCE_KINDS } from '../search/evidence.ts';
import type { BayAction } from '../../contract/api-bay.ts';
import type { TraceReading } from '../search/level.ts';
import { CLOSING_LIST } from './repair.ts';
import { PREPARATION } from './preparation.ts';
import { PullSession } from '../session/session.ts';
import type { BayEvent, LogEntry, SessionOptions, SessionState } from '../session/session-state.ts';
import { called, findNode } from '../tree/tree.ts';
import type { TreeNode } from '../tree/tree.ts';
import { newPrepare, Preparing } from './work-prepare.ts';
import type { PrepareState } from './work-prepare.ts';

/** What is wrong with an action, in words for who did it. */
export class BayProblem extends Error {}

interface WorkState {
  version: 1;
  session: SessionState;
  prepare: PrepareState;
  closed: string[];
}

export class BayWork {
  readonly prepare: Preparing;
  readonly closed: Set<string>;
  private kept: number;
  private from_s: number | null = null;

  private constructor(
    readonly session: PullSession,
    prepare: PrepareState,
    closed: readonly string[],
    kept: number,
  ) {
    this.prepare = new Preparing(prepare);
    this.closed = new Set(closed);
    this.kept = kept;
  }

  /** @throws Error naming the first mistake in the tree */
  static start(treeText: string, options: Partial<SessionOptions> = {}): BayWork {
    return new BayWork(PullSession.start(treeText, options), newPrepare(), [], 0);
  }

  /** @throws Error where the text is no work kept */
  static resume(json: string): BayWork {
    let state: WorkState;
    try {
      state = JSON.parse(json) as WorkState;
    } catch (error) {
      throw new Error('what was kept of the work in the bay is not whole; start it anew', { cause: error });
    }
    if (state?.version !== 1 || state.session === undefined || state.prepare === undefined)
      throw new Error('what was kept is no work in the bay of this version; start it anew');
    const session = PullSession.resume(JSON.stringify(state.session));
    return new BayWork(session, state.prepare, state.closed ?? [], session.state.log.length - 1);
  }

  toJSON(): string {
    const state: WorkState = {
      version: 1,
      session: this.session.state,
      prepare: this.prepare.state,
      closed: [...this.closed],
    };
    return JSON.stringify(state);
  }

  get stage(): 'preparing' | 'pulling' | 'closing' | 'done' {
    if (!this.prepare.done) return 'preparing';
    if (this.session.state.phase.name !== 'finished') return 'pulling';
    return this.session.state.out.length === 0 && this.closed.size === CLOSING_LIST.length ? 'done' : 'closing';
  }

  /** Entries since the last call, to be kept. Times on the trace. */
  newEntries(): LogEntry[] {
    const fresh = this.session.state.log
      .slice(this.kept)
      .map((entry) => ({ ...entry, t_s: Math.max(entry.t_s, this.from_s ?? 0) }));
    this.kept = this.session.state.log.length;
    return fresh;
  }

  /** @returns whether something happened that should be kept and shown */
  reading(reading: TraceReading, battery_V: number | null): boolean {
    this.from_s ??= reading.t_s;
    this.prepare.state.battery_V = battery_V ?? this.prepare.state.battery_V;
    const before = this.mark();
    const seen = this.prepare.reading(reading);
    // The proof load is no draw of the car.
    if (this.prepare.done && this.prepare.state.proof === null) this.session.take({ kind: 'reading', ...reading });
    else this.session.state.now_s = Math.max(this.session.state.now_s, reading.t_s);
    return seen || before !== this.mark();
  }

  private mark(): string {
    const { phase, log, plan } = this.session.state;
    return `${phase.name} ${JSON.stringify(phase)} ${log.length} ${plan[0]?.kind} ${plan[0]?.node}`;
  }

  /** @throws BayProblem in words where it makes no sense now */
  act(action: BayAction, wall_ms: number | null): void {
    const t_s = this.session.state.now_s;
    try {
      switch (action.do) {
        case 'tap':
          return this.tap();
        case 'ready':
          return this.ready();
        case 'yes':
        case 'no':
          return this.session.take({ kind: 'answer', t_s, yes: action.do === 'yes' });
        case 'wrong':
          return this.session.take({ kind: 'wrong', t_s });
        case 'skip':
          return this.skip(t_s);
        case 'give-up':
          return this.giveUp();
        case 'bridge':
          return this.session.take({ kind: 'bridge', t_s, on: action.on });
        case 'drop':
          return this.session.take({ kind: 'drop', t_s, node: this.dropNode(action.name).id, drop_mV: action.drop_mV });
        case 'did':
          return this.session.take(this.didOf(action.what, this.named(action.name), t_s));
        case 'evidence':
          return this.evidence(action, t_s, wall_ms);
        case 'alone':
          return this.session.take({ kind: 'alone', t_s, node: this.aloneNode(action.name).id, alone: action.alone });
        case 'proof':
          return this.prepare.startProof(action.resistor_Ohm, action.tolerance_percent ?? 1);
        case 'tick':
          return this.tick(action.id, action.ticked);
      }
    } catch (error) {
      if (error instanceof RangeError) throw new BayProblem(error.message, { cause: error });
      throw error;
    }
  }

  private note(code: string, text: string): void {
    this.session.state.log.push({ t_s: this.session.state.now_s, code, text });
  }

  private tap(): void {
    const { session, prepare } = this;
    if (prepare.state.proof !== null) {
      const result = prepare.tapProof();
      if (result !== null) this.note('proof', result.sentence);
    } else if (!prepare.done) {
      const item = PREPARATION[prepare.state.at]!.id;
      this.note('prepared', prepare.tick());
      if (item === 'bridge-on' || item === 'bridge-off')
        session.take({ kind: 'bridge', t_s: session.state.now_s, on: item === 'bridge-on' });
      if (prepare.done) this.beginPulling();
    } else if (session.state.phase.name !== 'finished') session.take({ kind: 'tap', t_s: session.state.now_s });
    else this.tapClosing();
  }

  private skip(t_s: number): void {
    if (this.prepare.state.proof === null) return this.session.take({ kind: 'skip', t_s });
    this.prepare.state.proof = null;
    this.note('proof-left', 'the proof load is left out; take the resistor off if it is on');
  }

  private ready(): void {
    const { state } = this.prepare;
    if (this.prepare.done) throw new BayProblem('the preparation is over already');
    this.note(
      'prepared',
      `said to be prepared: ${PREPARATION.slice(state.at)
        .map((item) => item.id)
        .join(', ')} not gone through`,
    );
    state.at = PREPARATION.length;
    this.beginPulling();
  }

  private beginPulling(): void {
    const { phase, now_s } = this.session.state;
    if (phase.name === 'levelling') phase.since_s = now_s;
  }

  private giveUp(): void {
    if (this.stage !== 'pulling') throw new BayProblem('nothing is being looked for now');
    this.session.take({ kind: 'stop', t_s: this.session.state.now_s });
  }

  /** After the end: what is out goes in first, then the list. */
  private tapClosing(): void {
    const { session } = this;
    const out = session.state.out.at(-1);
    if (out !== undefined && session.state.bridge === 'off')
      return session.take({ kind: 'bridge', t_s: session.state.now_s, on: true });
    if (out !== undefined)
      return session.take({ kind: 'did', t_s: session.state.now_s, what: 'refitted', node: out.node });
    const next = CLOSING_LIST.find(({ id }) => !this.closed.has(id));
    if (next !== undefined) this.tick(next.id, true);
  }

  private tick(id: string, ticked: boolean): void {
    const item = CLOSING_LIST.find((one) => one.id === id);
    if (item === undefined) throw new BayProblem(`'${id}' is not on the closing list`);
    if (ticked && id === 'fuses' && this.session.state.out.length > 0)
      throw new BayProblem(`still out: ${this.stillOut().join(', ')}; put them back first`);
    if (ticked) this.closed.add(id);
    else this.closed.delete(id);
    this.note('closing', `${ticked ? 'done' : 'not done'}: ${item.text}`);
  }

  /** Also what came out just now and is being measured. */
  stillOut(): string[] {
    const { phase, out } = this.session.state;
    const just = phase.name === 'measuring' && phase.tapped ? [phase.node] : [];
    return [...new Set([...out.map((one) => one.node), ...just])].map((node) => called(this.session.tree, node));
  }

  /** The technician leaves: what is not back is said and kept. @returns the words, null where all is back */
  leave(): string | null {
    const out = this.stillOut();
    if (out.length === 0) return null;
    const text = `still out: ${out.join(', ')}. Bridge on, then put them back.`;
    this.note('left-out', text);
    return text;
  }

  private didOf(what: 'pulled' | 'unplugged' | 'refitted', node: TreeNode, t_s: number): BayEvent {
    if (what === 'pulled' && (node.kind === 'part' || node.type === 'bolted'))
      throw new BayProblem(
        `${called(this.session.tree, node.id)} cannot be pulled; a part is unplugged, a bolted link stays in`,
      );
    if (what === 'unplugged' && node.kind !== 'part')
      throw new BayProblem(`${called(this.session.tree, node.id)} is pulled, not unplugged`);
    return { kind: 'did', t_s, what, node: node.id };
  }

  private dropNode(name: string | undefined): TreeNode {
    if (name !== undefined) {
      const node = this.named(name);
      if (node.kind === 'part') throw new BayProblem(`${node.name} is a part; a voltage is read across a fuse`);
      return node;
    }
    const next = this.session.state.plan[0];
    if (this.session.state.phase.name !== 'proposing' || next?.kind !== 'drop')
      throw new BayProblem('no voltage is asked for now; name the fuse that was read');
    return this.session.tree.nodes[next.node]!;
  }

  private aloneNode(name: string | undefined): TreeNode {
    if (name !== undefined) return this.named(name);
    const { phase, plan } = this.session.state;
    const next =
      phase.name === 'proposing' || (phase.name === 'asking' && phase.question === 'what-feeds') ? plan[0] : undefined;
    if (next === undefined)
      throw new BayProblem('nothing is proposed now; name the fuse or part that is to be left alone');
    return this.session.tree.nodes[next.node]!;
  }

  private named(name: string): TreeNode {
    const node = findNode(this.session.tree, name);
    if (node === null)
      throw new BayProblem(`'${name}' is no fuse or part of the tree, or there are several; write box/position`);
    return node;
  }

  private evidence(piece: Extract<BayAction, { do: 'evidence' }>, t_s: number, at_ms: number | null): void {
    const odds = checkedOdds(piece.odds ?? EVIDENCE_KINDS[piece.kind].odds);
    const { kind, text, source } = piece;
    this.session.take({
      kind: 'evidence',
      t_s,
      evidence: {
        node: this.named(piece.name).id,
        kind,
        odds,
        text: text === '' ? EVIDENCE_KINDS[kind].text : text,
        source,
        at_ms,
      },
    });
  }
}
