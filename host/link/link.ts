// A board behind a path for as long as somebody wants it: makes the connection,
// and makes it again when the cable was out, with growing pauses, until it is closed.

import type { ChipLimits, Hello, Reading } from '../contract/capture.ts';
import { pause } from '../contract/time.ts';
import { Connection } from './connection.ts';
import type { Greeting, Outside } from './connection.ts';
import { Search } from './find.ts';
import type { Bad } from './lines.ts';
import { LinkError } from './port-errors.ts';
import type { ListPorts } from './ports.ts';
import type { WantedSettings } from './settings.ts';

/** Pauses between attempts to open a port that went away; the last one repeats. */
const RETRY_MS = [100, 250, 500, 1000, 2000];

/**
 * A board says something 20 times a second, and answers questions where it has nothing to say; a silent one is taken
 * for gone.
 */
const SILENT_MS = 15_000;

/** Silence after which it is asked, and the port looked for. */
const SILENCE_ASKED_MS = 500;
const WATCH_MS = 250;

/** A search for boards has each port open for some seconds; one that is in use for longer is somebody else's. */
const BUSY_TRIES_MS = 6000;
const BUSY_EVERY_MS = 250;

/** Attempts at the old name before the board is looked for at new ones. */
const ATTEMPTS_BEFORE_SEARCH = 4;

export interface LinkHandlers {
  /**
   * A board said hello: at first, and after each reconnection. All readings that follow are its.
   * Returns null to go on, or why this board is not wanted. What it throws at first, `openLink` throws; later it must
   * not.
   */
  up: (greeting: Greeting) => string | null;
  /** The connection was lost, in words; `up` follows when it is back. */
  down: (reason: string) => void;
  /** A checked reading and when its bytes arrived (host microseconds). */
  reading: (reading: Reading, arrival_us: number) => void;
  /** A further hello. `asked`: it answers `askHello`; otherwise the board has booted. */
  hello: (hello: Hello, asked: boolean) => void;
  /** A line that was not believed. */
  bad: (bad: Bad) => void;
  /** What the sense chip can do, behind each hello. */
  limits?: (limits: ChipLimits) => void;
}

export interface LinkOutside extends Outside {
  listPorts: ListPorts;
}

export interface Link {
  /** Asks the board for its hello again. */
  askHello(): void;
  /** Asks the board for the windows from `seq` on, as far as it still has them. */
  askAgain(seq: number): void;
  /** Whether the port is open now. */
  readonly isUp: boolean;
  close(): Promise<void>;
}

/**
 * Opens `path` and keeps it open.
 * @param outside clock, timers and ports; `listPorts` looks where the board is when its port comes back under another
 * name
 * @param signal stops the first attempt; afterwards use `close`
 * @param wanted what the board is to send, now and after each boot
 * @throws LinkError in one sentence: the port is missing, busy, forbidden, or no board of ours
 */
export async function openLink(
  path: string,
  handlers: LinkHandlers,
  outside: LinkOutside,
  signal: AbortSignal,
  wanted?: WantedSettings,
): Promise<Link> {
  const link = new KeptLink(path, handlers, outside, wanted);
  await link.connectFirst(signal);
  await link.notePorts();
  return link;
}

class KeptLink implements Link {
  private connection: Connection | null = null;
  private readonly ending = new AbortController();
  private unwatch: () => void = () => undefined;
  private retrying: Promise<void> | null = null;

  private search: Search | null = null;
  private id = 0;

  constructor(
    private path: string,
    private readonly handlers: LinkHandlers,
    private readonly outside: LinkOutside,
    private readonly wanted?: WantedSettings,
  ) {}

  async notePorts(): Promise<void> {
    this.search = await Search.begin(this.outside.listPorts);
  }

  /** Waits a moment for a port that is in use: somebody may just be looking for boards. @throws LinkError */
  async connectFirst(signal: AbortSignal): Promise<void> {
    const { time } = this.outside;
    for (const end_us = time.now_us() + BUSY_TRIES_MS * 1000; ;) {
      try {
        return await this.connect(signal);
      } catch (error) {
        if (!(error instanceof LinkError) || error.kind !== 'busy' || signal.aborted || time.now_us() >= end_us)
          throw error;
        await pause(time, BUSY_EVERY_MS, signal);
      }
    }
  }

  /** One attempt. @throws LinkError */
  async connect(signal: AbortSignal): Promise<void> {
    const connection = new Connection(
      this.path,
      {
        reading: this.handlers.reading,
        hello: this.handlers.hello,
        bad: this.handlers.bad,
        limits: (limits) => this.handlers.limits?.(limits),
        closed: (reason) => this.lost(connection, reason),
      },
      this.outside,
      'at once',
      this.wanted,
    );
    const greeting = await connection.open(signal);
    try {
      const refused = signal.aborted ? `stopped while ${this.path} was opened` : this.handlers.up(greeting);
      if (refused !== null) throw new LinkError(refused);
    } catch (error) {
      await connection.close();
      throw error;
    }
    this.id = greeting.hello.id;
    this.connection = connection;
    this.unwatch = this.outside.time.every(WATCH_MS, () => this.listen(connection));
    connection.release();
  }

  get isUp(): boolean {
    return this.connection !== null;
  }

  askHello(): void {
    this.connection?.sendHello();
  }

  askAgain(seq: number): void {
    this.connection?.sendAgain(seq);
  }

  async close(): Promise<void> {
    this.ending.abort();
    this.unwatch();
    await this.connection?.close();
    await this.retrying;
  }

  private listen(connection: Connection): void {
    const silent_ms = (this.outside.time.now_us() - connection.lastByte_us) / 1000;
    if (silent_ms > SILENT_MS) {
      // Not looked at again while it is being closed.
      this.unwatch();
      void connection.close().then(() => this.lost(connection, `nothing came for ${SILENT_MS / 1000} s`));
    } else if (silent_ms > SILENCE_ASKED_MS) connection.probe();
  }

  private lost(connection: Connection, reason: string): void {
    if (this.ending.signal.aborted || this.connection !== connection) return;
    this.connection = null;
    this.unwatch();
    this.handlers.down(reason);
    this.retrying = this.retry();
  }

  private async lookElsewhere(signal: AbortSignal): Promise<void> {
    const found = await this.search?.look(this.id, this.outside, signal);
    if (found !== null && found !== undefined) this.path = found;
  }

  private async retry(): Promise<void> {
    const { signal } = this.ending;
    let told = '';
    for (let attempt = 0; !signal.aborted; attempt++) {
      await pause(this.outside.time, RETRY_MS[Math.min(attempt, RETRY_MS.length - 1)]!, signal);
      if (signal.aborted) return;
      try {
        await this.connect(signal);
        return;
      } catch (error) {
        if (!(error instanceof LinkError)) throw error;
        // The same trouble each second is one message.
        if (!signal.aborted && error.message !== told) this.handlers.down(error.message);
        told = error.message;
        if (error.kind === 'absent' && attempt >= ATTEMPTS_BEFORE_SEARCH) await this.lookElsewhere(signal);
      }
    }
  }
}
