// When each part of the emulated board has something to do next, in CPU cycles.
// Idle time is fast-forwarded to `next`, so nothing here may poll.

export type Slot = number;

/** About ten slots: a scan for the earliest is cheaper than keeping an order. */
export class Agenda {
  /** Cycle of the earliest entry, Infinity where there is none. */
  next = Infinity;
  private readonly due: number[] = [];
  private readonly actions: ((() => void) | null)[] = [];
  private readonly once: boolean[] = [];

  /** A place for one recurring action; it is not due until `set`. */
  add(action: () => void): Slot {
    this.due.push(Infinity);
    this.actions.push(action);
    this.once.push(false);
    return this.due.length - 1;
  }

  /** The slot's action runs once at `cycle`; an earlier setting is replaced. Infinity: never. */
  set(slot: Slot, cycle: number): void {
    this.due[slot] = cycle;
    this.refresh();
  }

  /** One action at `cycle`, in a slot that is free again afterwards. */
  runOnce(action: () => void, cycle: number): void {
    let slot = this.actions.indexOf(null);
    if (slot < 0) slot = this.add(action);
    this.actions[slot] = action;
    this.once[slot] = true;
    this.set(slot, cycle);
  }

  /** Runs what is due at `cycle` or before, the earliest first. */
  run(cycle: number): void {
    while (this.next <= cycle) {
      const slot = this.due.indexOf(this.next);
      const action = this.actions[slot]!;
      if (this.once[slot]) this.actions[slot] = null;
      this.set(slot, Infinity);
      action();
    }
  }

  private refresh(): void {
    let next = Infinity;
    for (const cycle of this.due) if (cycle < next) next = cycle;
    this.next = next;
  }
}
