// A simulated technician: does what the session asks for, in his own time, and not
// always what he taps. Also the same car searched the old way: fuse by fuse in order.
import { findNode } from '../../../host/bay/tree/tree.ts';
import type { HeldSession } from './held-session.ts';
import type { SimCar, SimNode } from './sim-car.ts';

const STEP_s = 0.5;

/** Own times of a hand, seconds: least and most. */
export const HAND = { drop: [8, 20], pull: [10, 25], unplug: [50, 130], bridge: [4, 8], refit: [6, 14] } as const;
export const meanOf = ([least, most]: readonly [number, number]) => (least + most) / 2;

export interface SimResult {
  outcome: string;
  named: string[];
  accused: string[];
  /** Draw that is left once what was named is gone. */
  left_mA: number;
  time_s: number;
  moves: number;
}

export interface HandOptions {
  /** Share of pulls that are tapped wrongly. */
  wrong: number;
  limit_s: number;
  /** Told of each wrong tap. */
  onWrong?: (text: string) => void;
}

export class SimHand {
  private readonly byId = new Map<number, SimNode>();
  private readonly really = new Map<number, SimNode>();
  private busy: { until_s: number; done: () => void }[] = [];
  private readonly tappedAt = new Map<number, number>();
  private readonly outAt = new Map<SimNode, number>();
  private planned = '';
  /** What was out when the question came up: that is what he is asked about. */
  private outThen = new Set<SimNode>();
  private moves = 0;

  constructor(
    private readonly car: SimCar,
    private readonly session: HeldSession,
    private readonly options: HandOptions,
  ) {
    for (const node of car.all) {
      const found = findNode(session.tree, node.kind === 'part' ? node.name : `${node.box}/${node.name}`);
      if (found === null) throw new Error(`the session's tree lacks ${node.name}`);
      this.byId.set(found.id, node);
    }
  }

  run(): SimResult {
    const { car, session } = this;
    while (session.state.phase.name !== 'finished' && car.t_s < this.options.limit_s) {
      const reading = car.reading_mA(STEP_s);
      session.take({ kind: 'reading', t_s: car.t_s, ...reading });
      const due = this.busy.filter((one) => one.until_s <= car.t_s);
      this.busy = this.busy.filter((one) => one.until_s > car.t_s);
      for (const one of due) one.done();
      this.look();
    }
    if (session.state.phase.name !== 'finished') session.take({ kind: 'stop', t_s: car.t_s });
    return this.result();
  }

  private result(): SimResult {
    const named = this.session.state.named.map((one) => this.byId.get(one.node)!);
    const { phase } = this.session.state;
    const left_mA = this.car.parts.reduce((sum, part) => sum + (named.includes(part) ? 0 : part.draw_mA), 0);
    return {
      outcome: phase.name === 'finished' ? phase.outcome : phase.name,
      named: named.map((node) => node.name),
      accused: named.filter((node) => !node.faulty).map((node) => node.name),
      left_mA,
      time_s: this.car.t_s,
      moves: this.moves,
    };
  }

  private after(range: readonly [number, number], done: () => void): void {
    this.busy.push({ until_s: this.car.t_s + range[0] + (range[1] - range[0]) * this.car.random(), done });
  }

  /** Starts what is asked for, once for each time that it is asked. */
  private look(): void {
    const { phase, plan, observations, log } = this.session.state;
    const next = plan[0];
    const asked = `${phase.name} ${'node' in phase ? phase.node : ''} ${phase.name === 'proposing' ? `${next?.kind} ${next?.node} ${observations.length} ${log.length}` : ''}`;
    if (phase.name !== 'asking') this.outThen = new Set(this.car.out);
    if (asked === this.planned || this.busy.length > 0) return;
    this.planned = asked;
    const tap = () => this.session.take({ kind: 'tap', t_s: this.car.t_s });
    switch (phase.name) {
      case 'proposing':
        return this.propose(next!.kind, next!.node, tap);
      case 'bridge-on':
        return this.after(HAND.bridge, () => ((this.car.bridged = true), tap()));
      case 'refitting':
        return this.after(HAND.refit, () => (this.putBack(phase.node), tap()));
      case 'bridge-off':
        return this.after(HAND.bridge, () => ((this.car.bridged = false), tap()));
      case 'asking':
        return this.after([2, 6], () =>
          this.session.take({
            kind: 'answer',
            t_s: this.car.t_s,
            yes: this.truth(phase.question, phase.node, phase.since_s),
          }),
        );
      default:
    }
  }

  private truth(question: string, node: number, asked_s: number): boolean {
    if (question === 'back-in') return !this.car.out.has(this.really.get(node) ?? this.byId.get(node)!);
    const meant = this.really.get(node) ?? this.byId.get(node)!;
    const out_s = this.outAt.get(meant) ?? -Infinity;
    return (
      this.outThen.has(meant) &&
      asked_s - out_s < 25 &&
      (question === 'was-it' || out_s > (this.tappedAt.get(node) ?? -Infinity))
    );
  }

  private takeOut(node: SimNode): void {
    this.outAt.set(node, this.car.t_s);
    this.car.takeOut(node);
  }

  private putBack(id: number): void {
    const node = this.really.get(id) ?? this.byId.get(id)!;
    this.really.delete(id);
    this.car.putBack(node);
  }

  private propose(kind: string, id: number, tapKey: () => void): void {
    const { car } = this;
    const asked = this.planned;
    // Where the prompt has changed meanwhile, he says what he did instead of tapping.
    const tap = () => {
      this.tappedAt.set(id, car.t_s);
      const next = this.session.state.plan[0];
      if (this.planned === asked && next?.node === id && next.kind === kind) tapKey();
      else this.session.take({ kind: 'did', t_s: car.t_s, what: kind === 'pull' ? 'pulled' : 'unplugged', node: id });
    };
    const node = this.byId.get(id)!;
    this.moves++;
    if (kind === 'drop') {
      const read = car.random() < this.options.wrong / 3 ? this.neighbour(node) : node;
      return this.after(HAND.drop, () =>
        this.session.take({ kind: 'drop', t_s: car.t_s, node: id, drop_mV: car.drop_mV(read) }),
      );
    }
    // Taken out already, while the car was restless: he only taps.
    if (car.out.has(node)) return this.after([1, 3], tap);
    const range = kind === 'pull' ? HAND.pull : HAND.unplug;
    const wrong = car.random() < this.options.wrong ? car.random() : 1;
    if (wrong < 1)
      this.options.onWrong?.(
        `${car.t_s} ${kind} ${node.name}: ${wrong < 0.35 ? 'another one' : wrong < 0.7 ? 'tapped early' : 'tapped twice, late'}`,
      );
    if (wrong < 0.35) {
      // Another fuse than he thinks.
      const other = this.neighbour(node);
      this.really.set(id, other);
      this.after(range, () => (this.takeOut(other), tap()));
    } else if (wrong < 0.7) {
      // The tap comes before the hand.
      const early_s = 2 + 10 * car.random();
      this.after(range, () => {
        tap();
        this.busy.push({ until_s: car.t_s + early_s, done: () => this.takeOut(node) });
      });
    } else {
      const lag_s = wrong < 1 ? 8 : 0.5 + car.random();
      this.after(range, () => {
        this.takeOut(node);
        this.busy.push({ until_s: car.t_s + lag_s, done: tap });
        if (wrong < 1) this.busy.push({ until_s: car.t_s + lag_s + 0.6, done: tap });
      });
    }
  }

  private neighbour(node: SimNode): SimNode {
    const near = this.car.all.filter(
      (other) =>
        other.kind === node.kind &&
        other.box === node.box &&
        other !== node &&
        !this.car.dark(other) &&
        (node.kind !== 'fuse' || !Number.isNaN(other.ohm_m)),
    );
    return near.length === 0 ? node : near[Math.floor(this.car.random() * near.length)]!;
  }
}

/**
 * Seconds that the old way takes on the same car, every look sure and no wrong tap:
 * each fuse in the order of the list is pulled, watched for 10 s, refitted, and the car
 * left to settle; one that changes the draw is followed to what it feeds.
 * @param leaveOut a fuse that changes nothing stays out until the end
 */
export function inOrder_s(car: SimCar, leaveOut: boolean): number {
  const look_s = 10;
  const settle_s = car.settleMedian_s * Math.exp(0.125);
  const refit_s = 2 * meanOf(HAND.bridge) + meanOf(HAND.refit);
  let open = car.parts.filter((part) => part.faulty).length;
  let time_s = look_s;
  const faultyBehind = (node: SimNode): number =>
    node.kind === 'part' ? Number(node.faulty) : node.children.reduce((sum, child) => sum + faultyBehind(child), 0);
  const go = (nodes: SimNode[]) => {
    for (const node of nodes) {
      if (open === 0) return;
      const here = faultyBehind(node);
      if (node.type === 'bolted') {
        go(node.children);
        continue;
      }
      time_s += meanOf(node.kind === 'part' ? HAND.unplug : HAND.pull) + look_s;
      if (node.kind === 'part') {
        open -= here;
        if (here === 0 && open > 0 && !leaveOut) time_s += refit_s + settle_s;
        continue;
      }
      if (here > 0 && node.children.length === 1 && node.children[0]!.kind === 'part') {
        open -= here;
        if (open > 0 && !leaveOut) time_s += refit_s + settle_s;
        continue;
      }
      if (here === 0 && leaveOut) {
        time_s += meanOf(HAND.refit);
        continue;
      }
      time_s += refit_s + settle_s;
      if (here > 0) go(node.children);
    }
  };
  go(car.roots);
  return time_s;
}
