// A simulated parked car in the bay, made from a seed: its feed tree as a CSV, what each
// part draws, one to three faults, noise that remembers itself, flicker, wake-ups, and
// the unrest after a refit. Knows nothing of the session: its own times, spreads and
// fuse resistances.
import { gaussian, seededRandom } from '../../../host/emulator/random.ts';

export interface SimNode {
  name: string;
  box: string;
  kind: 'fuse' | 'relay' | 'part';
  type: string;
  rating_A: number;
  /** True resistance of this specimen; NaN where a drop cannot be read. */
  ohm_m: number;
  children: SimNode[];
  parent: SimNode | null;
  /** Parts alone. */
  draw_mA: number;
  faulty: boolean;
}

export interface SimOptions {
  fuses: { least: number; most: number };
  levels: number;
  faults: number;
  /** 0: a car that holds perfectly still; 1: as cars are. */
  unrest: number;
  partsMost: number;
}

// Typical regular blades, mOhm (data sheet), for a specimen's own value to scatter around.
const TYPICAL: [number, number][] = [
  [5, 17.85],
  [7.5, 10.91],
  [10, 7.7],
  [15, 4.8],
  [20, 3.38],
  [30, 1.97],
];

export class SimCar {
  readonly roots: SimNode[] = [];
  readonly all: SimNode[] = [];
  readonly parts: SimNode[] = [];
  readonly out = new Set<SimNode>();
  bridged = false;
  t_s = 0;
  private readonly normal: () => number;
  private noise_mA = 0;
  private flicker_mA = 0;
  private flickerUntil_s = 0;
  private extras: { until_s: number; mA: number }[] = [];
  private nextWake_s: number;
  readonly noiseSigma_mA: number;
  readonly settleMedian_s: number;

  constructor(
    seed: number,
    private readonly options: SimOptions,
    readonly random = seededRandom(seed),
  ) {
    this.normal = gaussian(random);
    this.noiseSigma_mA = 0.4 + 2.2 * random();
    this.settleMedian_s = 100 + 200 * random();
    this.build();
    for (const part of this.parts) part.draw_mA = random() < 0.08 ? 2 + 4 * random() : -0.25 * Math.log(1 - random());
    // A healthy car sleeps at 8 to 35 mA, whatever it has of parts.
    const healthy_mA = 8 + 27 * random();
    const scale = healthy_mA / this.fed_mA();
    for (const part of this.parts) part.draw_mA *= scale;
    for (let i = 0; i < options.faults; i++) this.break();
    this.nextWake_s = this.wakeGap_s();
  }

  private integer(least: number, most: number): number {
    return least + Math.floor(this.random() * (most - least + 1));
  }

  private build(): void {
    const { random, options } = this;
    const wanted = this.integer(options.fuses.least, options.fuses.most);
    const boxes = wanted < 30 ? ['dash', 'bay'] : ['dash', 'bay', 'boot'];
    const numbers: Record<string, number> = {};
    const fuse = (parent: SimNode | null, feeder: boolean): SimNode => {
      const box = parent !== null && random() < 0.7 ? parent.box : boxes[this.integer(0, boxes.length - 1)]!;
      const [rating_A, typical] = feeder ? TYPICAL[this.integer(4, 5)]! : TYPICAL[this.integer(0, 4)]!;
      const bolted = feeder && parent === null && random() < 0.4;
      const relay = !feeder && random() < 0.06;
      return this.add(
        {
          name: `${relay ? 'K' : 'F'}${(numbers[box] = (numbers[box] ?? 0) + 1)}`,
          box,
          kind: relay ? 'relay' : 'fuse',
          type: relay ? 'relay' : bolted ? 'bolted' : 'regular',
          rating_A: bolted ? 100 : rating_A,
          ohm_m: bolted || relay ? NaN : typical * (1 + 0.06 * this.normal()),
        },
        parent,
      );
    };
    let made = 0;
    const grow = (parent: SimNode | null, level: number) => {
      const feeds = level < options.levels && made < wanted - 2 && random() < (level === 1 ? 0.35 : 0.25);
      const node = fuse(parent, feeds);
      made++;
      if (feeds) for (let i = this.integer(2, 6); i > 0 && made < wanted; i--) grow(node, level + 1);
      if (node.children.length === 0) for (let i = this.integer(1, options.partsMost); i > 0; i--) this.part(node);
    };
    while (made < wanted) grow(null, 1);
  }

  private part(parent: SimNode): void {
    this.parts.push(
      this.add(
        {
          name: `unit ${'abcdefghijklmnopqrstuvwxyz'[this.integer(0, 25)]!}${this.parts.length + 1000}`,
          box: parent.box,
          kind: 'part',
          type: '',
          rating_A: parent.rating_A,
          ohm_m: NaN,
        },
        parent,
      ),
    );
  }

  private add(
    about: Pick<SimNode, 'name' | 'box' | 'kind' | 'type' | 'rating_A' | 'ohm_m'>,
    parent: SimNode | null,
  ): SimNode {
    const node: SimNode = { ...about, children: [], parent, draw_mA: 0, faulty: false };
    (parent?.children ?? this.roots).push(node);
    this.all.push(node);
    return node;
  }

  private break(): void {
    const sound = this.parts.filter((part) => !part.faulty);
    const part = sound[this.integer(0, sound.length - 1)]!;
    part.faulty = true;
    part.draw_mA = Math.min(45 * Math.exp(this.random() * Math.log(25)), part.rating_A * 400);
  }

  csv(): string {
    const unique = (node: SimNode) => (node.kind === 'part' ? node.name : `${node.box}/${node.name}`);
    const rows = this.all
      .filter((node) => node.kind !== 'part')
      .map((node) => {
        const rating = node.kind === 'relay' ? '' : String(node.rating_A).replace('.', ',');
        return [node.box, node.name, rating, node.type, node.children.map(unique).join(', ')].join(';');
      });
    return ['box;position;rating;type;feeds', ...rows].join('\n');
  }

  /** Sum of what is fed and not out, behind a node or of the whole car, without noise. */
  fed_mA(node: SimNode | null = null): number {
    if (node !== null && this.out.has(node)) return 0;
    if (node?.kind === 'part') return node.draw_mA;
    return (node?.children ?? this.roots).reduce((sum, child) => sum + this.fed_mA(child), 0);
  }

  dark(node: SimNode): boolean {
    for (let at: SimNode | null = node; at !== null; at = at.parent) if (this.out.has(at)) return true;
    return false;
  }

  private wakeGap_s(): number {
    return this.options.unrest === 0 ? Infinity : (-Math.log(1 - this.random()) * 1500) / this.options.unrest;
  }

  takeOut(node: SimNode): void {
    this.out.add(node);
    // A bus that misses a partner may wake.
    if (this.random() < 0.04 * this.options.unrest)
      this.extras.push({ until_s: this.t_s + 10 + 60 * this.random(), mA: 80 + 300 * this.random() });
  }

  putBack(node: SimNode): void {
    this.out.delete(node);
    const settle_s = this.settleMedian_s * Math.exp(0.5 * this.normal() * Math.min(1, this.options.unrest));
    this.extras.push({ until_s: this.t_s + settle_s * 0.2, mA: 300 + 1500 * this.random() });
    this.extras.push({ until_s: this.t_s + settle_s * (0.4 + 0.4 * this.random()), mA: 60 + 200 * this.random() });
    this.extras.push({ until_s: this.t_s + settle_s, mA: 25 + 80 * this.random() });
  }

  /** One reading at the end of the next `step_s`. */
  reading_mA(step_s: number): { mean_mA: number } {
    const { options, random } = this;
    this.t_s += step_s;
    const memory = Math.exp(-step_s / 1.2);
    this.noise_mA = memory * this.noise_mA + Math.sqrt(1 - memory * memory) * this.noiseSigma_mA * this.normal();
    if (this.t_s >= this.flickerUntil_s) {
      this.flicker_mA = random() < 0.7 ? 0 : 10 * random() * options.unrest;
      this.flickerUntil_s = this.t_s + 2 + 60 * random();
    }
    if (this.t_s >= this.nextWake_s) {
      this.extras.push({ until_s: this.t_s + 3 + 45 * random(), mA: 60 + 250 * random() });
      this.nextWake_s = this.t_s + this.wakeGap_s();
    }
    this.extras = this.extras.filter((extra) => extra.until_s > this.t_s);
    const blink_mA = options.unrest > 0 && this.t_s % 2 < 0.5 ? 6 : 0;
    const whole =
      this.fed_mA() +
      this.noise_mA * Math.min(1, options.unrest + 0.2) +
      this.flicker_mA +
      blink_mA +
      this.extras.reduce((sum, extra) => sum + extra.mA, 0);
    const mean_mA = this.bridged ? 0.3 * whole : whole;
    return { mean_mA };
  }

  /** What a workshop meter of 0.1 mV shows across a fuse. */
  drop_mV(node: SimNode): number {
    const true_mV = (this.fed_mA(node) * node.ohm_m) / 1000 + 0.015 * this.normal() * this.options.unrest;
    return Math.round(true_mV * 10) / 10;
  }
}
