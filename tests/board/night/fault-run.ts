// One seeded night of faults on the real `record` command: whatever happens to the
// recorder, the cable, the board, the wire and the wall clock, in a seeded order.
import { mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import type { CarSpec } from '../../../host/emulator/car/spec.ts';
import { seededRandom } from '../../../host/emulator/random.ts';
import { carOf } from '../board-run.ts';
import { judge } from './ledger.ts';
import type { Session, Verdict } from './ledger.ts';
import { RecordCommand } from './record-command.ts';
import { TamperedBoard } from './tampered-board.ts';

export type Fault = 'kill' | 'pull' | 'reset' | 'power' | 'clock';

/** What is not on the disk yet may be lost: a second, and what this computer itself was late by. */
const UNKEPT_MS = 1000;
const STEPS_MS = [3600e3, -3600e3, 500, -500];

/** Two loads, one of which switches all the time: a lost second would show in the charge. */
const CAR: CarSpec = carOf([
  { name: 'steady', awake: [], asleep_mA: 140 },
  { name: 'pulses', awake: [], asleep_mA: 1, trains: [{ from_s: 0, period_s: 1.7, on_s: 0.4, mA: 300 }] },
]);

export interface FaultRun {
  faults: Fault[];
  seed: number;
  /** Share of lines that the wire damages after the first third of the faults. */
  damage: number;
}

export interface FaultReport {
  last: Verdict;
  damages: Record<string, number>;
  /** Summary that the last recorder printed. */
  printed: string;
  left: string[];
  runs: number;
}

/** @throws Error that names fault, seed and what was wrong */
export async function runFaults({ faults, seed, damage }: FaultRun): Promise<FaultReport> {
  const night = new Night(seed);
  try {
    await night.start();
    for (const [i, fault] of faults.entries()) {
      night.board.damage = i >= faults.length / 3 ? damage : 0;
      await night.meet(fault).catch((error: Error) => {
        throw new Error(
          `${error.message} (fault ${i}, ${fault}, seed ${seed}; the recorder said: ${night.lastWords()})`,
        );
      });
    }
    return await night.end();
  } finally {
    await night.clear();
  }
}

class Night {
  readonly board: TamperedBoard;
  private readonly folder = mkdtempSync(join(tmpdir(), 'nightdraw-faults-'));
  private readonly random: () => number;
  private readonly sessions: Session[] = [];
  private recorder: RecordCommand | null = null;
  private session: Session | null = null;
  private wall_ms = 0;
  private resets = 0;

  constructor(seed: number) {
    this.random = seededRandom(seed);
    this.board = new TamperedBoard({ link: this.path('port'), car: CAR, seed, random: seededRandom(seed + 1) });
  }

  private path(name: string): string {
    return join(this.folder, name);
  }

  lastWords(): string {
    return this.recorder?.notes.slice(-3).join(' | ') ?? 'nothing';
  }

  async start(): Promise<void> {
    writeFileSync(this.path('clock'), '0');
    this.launch();
    await this.acknowledged();
  }

  async meet(fault: Fault): Promise<void> {
    switch (fault) {
      case 'kill':
        return this.kill();
      case 'pull':
        return this.pull(false);
      case 'power':
        return this.pull(true);
      case 'reset':
        return this.reset();
      case 'clock':
        return this.stepClock();
    }
  }

  private launch(): void {
    // Windows alone: a burst in so short a night makes it one of conversions, which the judge does not count.
    this.recorder = new RecordCommand({
      port: this.path('port'),
      out: this.path('night'),
      clockFile: this.path('clock'),
      more: ['--stream', 'windows'],
    });
  }

  /** From here on what is heard must be kept. */
  private open(): void {
    this.board.lag_ms = 0;
    this.session = { from_ms: performance.now(), to_ms: Infinity };
    this.sessions.push(this.session);
  }

  private shut(): void {
    if (this.session !== null) this.session.to_ms = performance.now() - UNKEPT_MS - this.board.lag_ms;
    this.session = null;
  }

  private async until(condition: () => boolean, what: string, within_ms = 60_000): Promise<void> {
    const limit_ms = performance.now() + within_ms;
    while (!condition()) {
      if (this.recorder!.over)
        throw new Error(`the recorder ended with ${this.recorder!.code} while waited for: ${what}`);
      if (performance.now() > limit_ms) throw new Error(`waited ${within_ms / 1000} s for: ${what}`);
      await pause(10);
    }
  }

  private async acknowledged(): Promise<void> {
    await this.until(() => this.recorder!.acknowledged_s >= 0, 'a first word on what is recorded');
    if (this.session === null) this.open();
  }

  private async kill(): Promise<void> {
    // Some die before they have the port.
    if (this.random() < 0.7) await this.acknowledged();
    await pause(this.random() * 2000);
    this.shut();
    const { acknowledged_s } = this.recorder!;
    await this.recorder!.kill();
    const said = Math.max(acknowledged_s, this.recorder!.acknowledged_s);
    this.check();
    if (said >= 0) this.checkAcknowledged(said);
    this.launch();
  }

  private async pull(powerLost: boolean): Promise<void> {
    await this.acknowledged();
    await pause(this.random() * 1500);
    const before = this.recorder!.notes.length;
    this.shut();
    this.board.unplug();
    if (powerLost) this.board.board.reset('power');
    await pause(100 + this.random() * 1500);
    this.board.plug();
    await this.until(
      () => this.recorder!.notes.slice(before).some((note) => note.includes('board is back')),
      'the board to be back',
      30_000,
    );
    const told = this.recorder!.notes.slice(before).join(' ');
    if (powerLost !== told.includes('it was reset'))
      throw new Error(`the board ${powerLost ? 'lost' : 'kept'} its power, and the recorder said: ${told}`);
    if (powerLost) this.resets++;
    this.open();
    this.check();
  }

  private async reset(): Promise<void> {
    await this.acknowledged();
    await pause(this.random() * 1500);
    const before = this.recorder!.notes.length;
    this.shut();
    this.board.board.reset(this.random() < 0.5 ? 'pin' : 'brownout');
    this.resets++;
    await this.until(
      () => this.recorder!.notes.slice(before).some((note) => note.includes('booted')),
      'the boot to be told',
    );
    this.open();
    this.check();
  }

  private async stepClock(): Promise<void> {
    await this.acknowledged();
    this.wall_ms += STEPS_MS[Math.floor(this.random() * STEPS_MS.length)]!;
    writeFileSync(this.path('clock'), String(this.wall_ms));
    await pause(300);
    this.check();
  }

  private check(): Verdict {
    const due_ms = performance.now() - UNKEPT_MS - this.board.lag_ms;
    const sessions = this.sessions.map((session) => ({ ...session, to_ms: Math.min(session.to_ms, due_ms) }));
    const verdict = judge(this.path('night'), this.board.sent, sessions, this.board.board.car);
    if (verdict.problems.length > 0)
      throw new Error(`${verdict.problems.length} problems, the first: ${verdict.problems.slice(0, 3).join('; ')}`);
    if (verdict.chargeError > 0.001) throw new Error(`a charge is ${(verdict.chargeError * 100).toFixed(3)} % wrong`);
    return verdict;
  }

  /** What was said to be on the disk is there. */
  private checkAcknowledged(said_s: number): void {
    const { end_s } = this.check();
    // Axis seconds against the board's own, in which it is said: a resonator's error apart.
    if (end_s < said_s - 0.01 * said_s - 0.05)
      throw new Error(`${said_s} s were acknowledged and ${end_s} s are there`);
  }

  async end(): Promise<FaultReport> {
    this.board.damage = 0;
    await this.acknowledged();
    await pause(1500);
    this.shut();
    await this.recorder!.stop();
    if (this.recorder!.code !== 0)
      throw new Error(`the recorder ended with ${this.recorder!.code}: ${this.lastWords()}`);
    const last = this.check();
    return {
      last,
      damages: this.board.damages,
      printed: this.recorder!.printed,
      left: readdirSync(this.folder).sort(),
      runs: this.resets + 1,
    };
  }

  async clear(): Promise<void> {
    if (this.recorder !== null && !this.recorder.over) await this.recorder.kill();
    this.board.stop();
    rmSync(this.folder, { recursive: true, force: true });
  }
}
