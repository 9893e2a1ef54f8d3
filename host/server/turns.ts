// Work that is done one piece at a time, in the order it came, unless somebody waits
// for a piece: that one goes first.

interface Piece {
  key: object;
  begin(): Promise<void>;
}

export class Turns {
  private readonly waiting: Piece[] = [];
  private running: Promise<void> | null = null;
  private closed: Error | null = null;

  /** Does `work` when its turn comes. `key` names it for `hurry`. */
  add<T>(key: object, work: () => Promise<T>): Promise<T> {
    return new Promise<T>((resolve, reject) => {
      this.waiting.push({
        key,
        begin: async () => {
          try {
            if (this.closed !== null) throw this.closed;
            resolve(await work());
          } catch (error) {
            reject(error instanceof Error ? error : new Error(String(error)));
          }
        },
      });
      this.running ??= this.run();
    });
  }

  /** The piece of this key, where it still waits, comes next. */
  hurry(key: object): void {
    const at = this.waiting.findIndex((piece) => piece.key === key);
    if (at > 0) this.waiting.unshift(...this.waiting.splice(at, 1));
  }

  /** What runs is finished, what waits fails with `reason`. */
  async close(reason: Error): Promise<void> {
    this.closed = reason;
    await this.running;
  }

  private async run(): Promise<void> {
    // Whoever adds several pieces at once has done so before the first begins.
    await Promise.resolve();
    for (let piece = this.waiting.shift(); piece !== undefined; piece = this.waiting.shift()) await piece.begin();
    this.running = null;
  }
}
