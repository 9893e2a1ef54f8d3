// Tells pages that show the list of captures when it is another, so that none of them asks
// for it again and again: the folder's own notices, and a look at it now and then, since a
// drive in the network gives none.

import { watch } from 'node:fs';
import type { FSWatcher } from 'node:fs';
import type { ListChanged } from '../../contract/api.ts';
import type { HostClock } from '../../contract/time.ts';
import type { Shelf } from '../shelf/shelf.ts';
import { INDEX_NAME } from '../shelf/index-file.ts';
import type { Hub } from './hub.ts';

/** What came, went or was read is told so soon after what was told before. */
const SOON_MS = 250;
/** Captures that only grow, as a recording does with every second, are told so often. */
const GROWN_MS = 5000;
/** The folder is looked over so often while a page listens. */
const LOOK_MS = 5000;
/** Notices of one change come in a burst. */
const BURST_MS = 60;
/** More names than this are told as "ask for all". */
const NAMES_MAX = 50;

export class Changes {
  private readonly names = new Set<string>();
  private grewOnly = true;
  private told_ms = -Infinity;
  private toldRunning = 0;
  /** Calls off what will be told, and when that is. */
  private due: { at_ms: number; cancel: () => void } | null = null;
  private burst: (() => void) | null = null;
  private watcher: FSWatcher | null = null;
  private readonly stopLooking: () => void;

  constructor(
    dir: string,
    private readonly shelf: Pick<Shelf, 'onChange' | 'look' | 'size' | 'version'>,
    private readonly recordings: { readonly hub: Hub; readonly running: number },
    private readonly clock: HostClock,
  ) {
    shelf.onChange((names, grew) => this.note(names, grew));
    this.stopLooking = clock.every(LOOK_MS, () => this.look());
    try {
      this.watcher = watch(dir, { persistent: false }, (_event, file) => {
        // The index is written when something was learned, which is told already.
        if (file?.startsWith(INDEX_NAME) !== true) this.noticed();
      });
      this.watcher.on('error', () => this.watcher?.close());
    } catch {
      // No notices are to be had here: the look now and then finds everything.
    }
  }

  /** What a page that begins to listen has to know. */
  now(): ListChanged {
    return { ...this.state(), names: null };
  }

  private state(): Omit<ListChanged, 'names'> {
    return { version: this.shelf.version, total: this.shelf.size, running: this.recordings.running };
  }

  /** A recording may have begun or ended. */
  poke(): void {
    if (this.recordings.running !== this.toldRunning) this.note([], false);
  }

  private noticed(): void {
    this.burst ??= this.clock.after(BURST_MS, () => {
      this.burst = null;
      this.look();
    });
  }

  /** Nobody who listens: nothing is looked for. */
  private look(): void {
    // A folder that cannot be read is told of by the list itself.
    if (this.recordings.hub.isListListened) this.shelf.look().catch(() => undefined);
  }

  private note(names: readonly string[], grew: boolean): void {
    for (const name of names) this.names.add(name);
    this.grewOnly &&= grew;
    const now_ms = this.clock.now_us() / 1000;
    const at_ms = Math.max(now_ms, this.told_ms + (this.grewOnly ? GROWN_MS : SOON_MS));
    if (this.due !== null && this.due.at_ms <= at_ms) return;
    this.due?.cancel();
    this.due = { at_ms, cancel: this.clock.after(at_ms - now_ms, () => this.tell()) };
  }

  private tell(): void {
    const names = [...this.names];
    this.due = null;
    this.names.clear();
    this.grewOnly = true;
    this.told_ms = this.clock.now_us() / 1000;
    this.toldRunning = this.recordings.running;
    this.recordings.hub.sendChanged({ ...this.state(), names: names.length > NAMES_MAX ? null : names });
  }

  close(): void {
    this.watcher?.close();
    this.stopLooking();
    this.burst?.();
    this.due?.cancel();
  }
}
