// A modelled car: from its data and a seeded random source to current, charge,
// battery voltage and temperature at any time, and to the wake-ups that it makes.
import { Climate } from './climate.ts';
import { Current } from './current.ts';
import type { Block, Surge } from './current.ts';
import type { CarSpec, ModuleSpec, PulseTrain, WakeShape, WakeSpec } from './spec.ts';

/** Wake-ups are laid out for a week; a longer run stays asleep after that. */
const HORIZON_S = 7 * 24 * 3600;
/** After this many time constants an inrush is 4e-18 of its peak, less than a rounding. */
const SURGE_TAUS = 40;

export interface WakeEvent {
  module: string;
  start_s: number;
  end_s: number;
  shape: WakeShape;
}

export class Car {
  readonly wakes: WakeEvent[];
  /** Lasting changes of the draw (trains aside), ascending. */
  readonly stairs: { t_s: number; change_mA: number }[];
  readonly trains: PulseTrain[];
  private readonly current: Current;
  private readonly base: Current;
  private readonly climate: Climate;

  constructor(
    private readonly spec: CarSpec,
    random: () => number,
  ) {
    this.climate = new Climate(spec.climate);
    const lasting = spec.modules.flatMap((module) => lastingBlocks(module, spec.lock_s, random));
    this.wakes = spec.modules.flatMap((module) => wakeEvents(module, random)).sort((a, b) => a.start_s - b.start_s);
    this.stairs = stairsOf(lasting);
    this.trains = spec.modules.flatMap((module) => module.trains ?? []);
    const perDegree_mA = spec.modules.reduce((sum, module) => sum + (module.perDegree_mA ?? 0), 0);
    const woken = this.wakes.flatMap(wakeBlocks);
    this.base = new Current(lasting, [], this.trains, perDegree_mA, this.climate);
    this.current = new Current(
      [...lasting, ...woken],
      this.wakes.flatMap(wakeSurge),
      this.trains,
      perDegree_mA,
      this.climate,
    );
  }

  current_mA(t_s: number): number {
    return this.current.at_mA(t_s);
  }

  /** Charge drawn from 0 to `t_s`, exact. */
  charge_mC(t_s: number): number {
    return this.current.charge_mC(t_s);
  }

  /** The same without any wake-up. */
  baseCharge_mC(t_s: number): number {
    return this.base.charge_mC(t_s);
  }

  /** At the battery's posts. */
  voltage_V(t_s: number): number {
    const b = this.spec.battery;
    const usedShare = this.charge_mC(t_s) / 3.6e6 / b.capacity_Ah;
    const rested_V = b.rested_V - b.fall_V * usedShare + b.surface_V * Math.exp(-t_s / b.surfaceTau_s);
    return rested_V - (this.current_mA(t_s) * b.internal_mOhm) / 1e6;
  }

  temperature_C(t_s: number): number {
    return this.climate.temperature_C(t_s);
  }
}

function lastingBlocks(module: ModuleSpec, lock_s: number, random: () => number): Block[] {
  const blocks: Block[] = [];
  let start_s = 0;
  for (const { untilAfterLock_s, mA } of module.awake) {
    const end_s = lock_s + untilAfterLock_s + (module.timerJitter_s ?? 0) * (2 * random() - 1);
    blocks.push({ start_s, end_s, mA });
    start_s = end_s;
  }
  return [...blocks, { start_s, end_s: Infinity, mA: module.asleep_mA }];
}

function stairsOf(blocks: Block[]): { t_s: number; change_mA: number }[] {
  const changes = new Map<number, number>();
  const add = (t_s: number, mA: number) => changes.set(t_s, (changes.get(t_s) ?? 0) + mA);
  for (const block of blocks) {
    add(block.start_s, block.mA);
    if (block.end_s !== Infinity) add(block.end_s, -block.mA);
  }
  return [...changes].map(([t_s, change_mA]) => ({ t_s, change_mA })).sort((a, b) => a.t_s - b.t_s);
}

function wakeEvents(module: ModuleSpec, random: () => number): WakeEvent[] {
  return (module.wakes ?? []).flatMap((wake) => {
    const length_s = wake.stages.reduce((sum, stage) => sum + stage.duration_s, 0);
    return wakeStarts(wake, length_s, random).map((start_s) => ({
      module: module.name,
      start_s,
      end_s: start_s + length_s,
      shape: wake,
    }));
  });
}

function wakeStarts(wake: WakeSpec, length_s: number, random: () => number): number[] {
  if (wake.when === 'once') return [wake.at_s];
  const starts: number[] = [];
  if (wake.when === 'every') {
    for (let t_s = wake.first_s; t_s < HORIZON_S; t_s += wake.period_s)
      starts.push(t_s + wake.jitter_s * (2 * random() - 1));
  } else {
    const gap_s = () => wake.leastGap_s - Math.log(1 - random()) * (wake.meanGap_s - wake.leastGap_s);
    for (let t_s = wake.from_s + gap_s(); t_s < HORIZON_S; t_s += length_s + gap_s()) starts.push(t_s);
  }
  return starts;
}

function wakeBlocks(event: WakeEvent): Block[] {
  let start_s = event.start_s;
  return event.shape.stages.map(({ duration_s, rise_mA }) => {
    const block = { start_s, end_s: start_s + duration_s, mA: rise_mA };
    start_s = block.end_s;
    return block;
  });
}

function wakeSurge(event: WakeEvent): Surge[] {
  const inrush = event.shape.inrush;
  if (inrush === undefined) return [];
  return [
    { ...inrush, start_s: event.start_s, end_s: Math.min(event.end_s, event.start_s + SURGE_TAUS * inrush.tau_s) },
  ];
}
