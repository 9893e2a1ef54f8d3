// Events as server-sent events (WHATWG HTML, "Server-sent events"): each made into bytes
// once, numbered, and kept for a while for clients that come back.

import type { LiveEventName } from '../../contract/api.ts';

export interface Frame {
  n: number;
  bytes: Buffer;
}

/** What a client may have missed and still gets event by event; more is a fresh picture. */
const KEPT_BYTES = 256 * 1024;

export class Frames {
  private readonly kept: Frame[] = [];
  private keptBytes = 0;
  private n = 0;

  /** @param boot tells this run of the server from others: numbers begin again with each */
  constructor(private readonly boot: string) {}

  /** Number of the newest one; 0 before the first. */
  get newest(): number {
    return this.n;
  }

  make(name: LiveEventName, data: unknown): Frame {
    const frame = { n: ++this.n, bytes: this.bytesOf(name, data, this.n) };
    this.kept.push(frame);
    this.keptBytes += frame.bytes.length;
    while (this.keptBytes > KEPT_BYTES) this.keptBytes -= this.kept.shift()!.bytes.length;
    return frame;
  }

  /** An event that is not kept. `n`: who has it, has all up to there; null: it says nothing of that. */
  bytesOf(name: LiveEventName, data: unknown, n: number | null): Buffer {
    const id = n === null ? '' : `id: ${this.boot}-${n}\n`;
    return Buffer.from(`event: ${name}\n${id}data: ${JSON.stringify(data)}\n\n`);
  }

  /**
   * Those after the one that a client had last; null where they are not all kept, or it was another run of the server.
   */
  after(lastId: string | undefined): Frame[] | null {
    const [, boot, digits] = /^([\w]+)-(\d{1,15})$/.exec(lastId ?? '') ?? [];
    const n = Number(digits);
    if (boot !== this.boot || n > this.n) return null;
    const first = this.kept[0]?.n ?? this.n + 1;
    return n < first - 1 ? null : this.kept.filter((frame) => frame.n > n);
  }
}
