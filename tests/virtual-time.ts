// A clock that is turned by hand: hours of waiting pass as fast as what is done in them.

import type { HostClock } from '../host/contract/time.ts';

interface Entry {
  at_us: number;
  every_us: number | null;
  work: () => void;
}

/** An evening on which every virtual night begins. */
const BEGAN_ms = Date.UTC(2030, 9, 14, 20, 0, 0);

export class VirtualTime implements HostClock {
  private now = 1e6;
  private agenda: Entry[] = [];
  /** Added to the wall's clock: somebody set it. */
  set_ms = 0;
  /** Seconds that the computer slept: the clock that never steps stood still meanwhile. */
  slept_s = 0;

  now_us = (): number => this.now;
  wall_ms = (): number => BEGAN_ms + this.now / 1000 + this.slept_s * 1000 + this.set_ms;
  up_s = (): number => this.now / 1e6 + this.slept_s;

  after = (ms: number, work: () => void): (() => void) =>
    this.enter({ at_us: this.now + ms * 1000, every_us: null, work });

  every = (ms: number, work: () => void): (() => void) =>
    this.enter({ at_us: this.now + ms * 1000, every_us: ms * 1000, work });

  private enter(entry: Entry): () => void {
    // Behind those of the same instant: first come, first served.
    const place = this.agenda.findIndex(({ at_us }) => at_us > entry.at_us);
    this.agenda.splice(place < 0 ? this.agenda.length : place, 0, entry);
    return () => {
      const found = this.agenda.indexOf(entry);
      if (found >= 0) this.agenda.splice(found, 1);
      entry.every_us = null;
    };
  }

  /** How many timers are set: what is over leaves none. */
  get waiting(): number {
    return this.agenda.length;
  }

  /** How long until the next of them is due; null where none is set. */
  get next_ms(): number | null {
    return this.agenda.length === 0 ? null : Math.max(0, (this.agenda[0]!.at_us - this.now) / 1000);
  }

  /** Lets `ms` milliseconds pass, with all that falls due in them. */
  async pass(ms: number): Promise<void> {
    const end_us = this.now + ms * 1000;
    await settled();
    while (this.agenda.length > 0 && this.agenda[0]!.at_us <= end_us) await this.next();
    this.now = end_us;
  }

  private async next(): Promise<void> {
    const entry = this.agenda.shift()!;
    this.now = Math.max(this.now, entry.at_us);
    if (entry.every_us !== null) {
      entry.at_us += entry.every_us;
      const again = this.enter(entry);
      entry.work();
      // Called off by its own work.
      if (entry.every_us === null) again();
    } else entry.work();
    await settled();
  }

  /** Lets time pass until `promise` is settled, and is what it is. @throws Error after a day without that */
  async over<T>(promise: Promise<T>): Promise<T> {
    let done = false;
    const mark = () => void (done = true);
    promise.then(mark, mark);
    await this.until(() => done, 'a promise to be settled');
    return promise;
  }

  /** Lets time pass until `condition` holds. @throws Error after a day without that, or when nothing is due any more */
  async until(condition: () => boolean, what: string): Promise<void> {
    const end_us = this.now + 24 * 3600e6;
    await settled();
    while (!condition()) {
      if (this.agenda.length === 0 || this.now > end_us) throw new Error(`waited in vain for: ${what}`);
      await this.next();
    }
  }
}

/** All promises and streams that can go on have gone on. */
function settled(): Promise<void> {
  return new Promise((resolve) => void setImmediate(resolve));
}
