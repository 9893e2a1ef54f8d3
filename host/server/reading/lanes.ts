// Questions that wait for one thread. Quick ones go first, in the order they came; of the
// others each lane has one in turn. Those whose asker has gone are not answered, and those
// whose asker has not taken the last answer wait until it has.

import type { Asker } from '../asker.ts';

export interface Waiting {
  asker: Asker;
  /** Not to be answered any more: nobody would take it. */
  drop(): void;
}

export class Lanes<W extends Waiting> {
  private quick: W[] = [];
  /** In the order of their turns. */
  private readonly lanes = new Map<object, W[]>();

  get empty(): boolean {
    return this.quick.length === 0 && this.lanes.size === 0;
  }

  add(waiting: W, isQuick: boolean): void {
    if (isQuick) return void this.quick.push(waiting);
    const own = this.lanes.get(waiting.asker.lane);
    if (own === undefined) this.lanes.set(waiting.asker.lane, [waiting]);
    else own.push(waiting);
  }

  /** The next that can be answered, taken out; null where there is none now. */
  next(): W | null {
    for (let one = this.quick.shift(); one !== undefined; one = this.quick.shift()) {
      if (!one.asker.gone.aborted) return one;
      one.drop();
    }
    for (const [lane, own] of [...this.lanes]) {
      while (own.length > 0 && own[0]!.asker.gone.aborted) own.shift()!.drop();
      const first = own[0];
      if (first !== undefined && !first.asker.takes()) continue;
      own.shift();
      // Behind the others now.
      this.lanes.delete(lane);
      if (own.length > 0) this.lanes.set(lane, own);
      if (first !== undefined) return first;
    }
    return null;
  }

  /** Empties it. */
  all(): W[] {
    const all = [...this.quick, ...[...this.lanes.values()].flat()];
    this.quick = [];
    this.lanes.clear();
    return all;
  }
}
