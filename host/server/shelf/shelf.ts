// The folder as it is now, in the index: scanned again for each question while that is
// quick, else in the background beside the answers.

import { randomBytes } from 'node:crypto';
import { listFolder } from '../folder.ts';
import type { CaptureFile } from '../folder.ts';
import { ShelfIndex } from './index-file.ts';
import type { Learned, Page } from './index-file.ts';
import type { CarPage } from './night-table.ts';
import { searchedFor } from './words.ts';

/** A scan that took longer is not waited for. Some thousand files take so long. */
const WAITED_MS = 25;
/**
 * One that is not waited for is repeated after so many times what it took, so that it costs a twentieth of a core at
 * most.
 */
const RESTS = 20;

export type ShelfListener = (names: readonly string[], grew: boolean) => void;

export class Shelf {
  private readonly index: ShelfIndex;
  private scanning: Promise<void> | null = null;
  private took_ms: number;
  private due_ms = -Infinity;
  private readonly boot = randomBytes(4).toString('hex');
  private changes = 0;
  private tell: ShelfListener = () => undefined;

  /** @param now_ms milliseconds of a clock that only moves forward */
  constructor(
    private readonly dir: string,
    basis: string,
    private readonly now_ms: () => number,
  ) {
    this.index = ShelfIndex.open(dir, basis);
    // Many are known from before: they are listed at once, and looked through meanwhile.
    this.took_ms = this.index.size > 1000 ? Infinity : 0;
  }

  /** @throws Error where the folder cannot be read */
  async page(search: string, from: number, count: number): Promise<Page> {
    await this.fresh();
    return this.index.page(searchedFor(search), from, count);
  }

  /** Cars, the worst first. @throws Error where the folder cannot be read */
  async cars(from: number, count: number, nights_max: number): Promise<CarPage> {
    await this.fresh();
    return this.index.cars(from, count, nights_max);
  }

  /** Another one after each change: of the folder, or of what is known of a capture. */
  get version(): string {
    return `${this.boot}-${this.changes}`;
  }

  /** Captures that were not read yet, or cannot be. */
  get unread(): number {
    return this.index.unread;
  }

  get size(): number {
    return this.index.size;
  }

  /** @param tell called with the captures that changed; `grew`: they were written to, and nothing else */
  onChange(tell: ShelfListener): void {
    this.tell = tell;
  }

  private changed(names: readonly string[], grew: boolean): void {
    if (names.length === 0) return;
    this.changes++;
    this.tell(names, grew);
  }

  /** Looks the folder over, unless that was done just now. */
  async look(): Promise<void> {
    this.begin();
    await this.scanning;
  }

  private begin(): void {
    if (this.scanning !== null || this.now_ms() < this.due_ms) return;
    this.scanning = this.scan().finally(() => (this.scanning = null));
    this.scanning.catch(() => undefined);
  }

  private async fresh(): Promise<void> {
    this.begin();
    if (this.took_ms <= WAITED_MS) await this.scanning;
  }

  private async scan(): Promise<void> {
    const begin_ms = this.now_ms();
    const files = await listFolder(this.dir);
    const { names, grew } = this.index.reconcile(files);
    this.took_ms = this.now_ms() - begin_ms;
    this.due_ms = this.took_ms <= WAITED_MS ? -Infinity : this.now_ms() + RESTS * this.took_ms;
    this.changed(names, grew);
  }

  has(name: string): boolean {
    return this.index.has(name);
  }

  learn(file: CaptureFile, version: string, learned: Learned): void {
    this.index.learn(file.name, version, learned);
    this.changed([file.name], false);
  }

  stale(except: ReadonlySet<string>): string | null {
    return this.index.stale(except);
  }

  /** Those that are unfinished, or were not looked at since they changed; scans first. */
  async mayBeUnfinished(): Promise<string[]> {
    await this.fresh();
    return this.index.mayBeUnfinished();
  }

  learnUnfinished(name: string, version: string, unfinished: boolean): void {
    this.index.learnUnfinished(name, version, unfinished);
  }

  async close(): Promise<void> {
    await this.scanning?.catch(() => undefined);
    this.index.close();
  }
}
