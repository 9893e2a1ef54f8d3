// The live stream: hands events to every viewer. One that is too slow to take them gets
// none until it has caught up, then a fresh picture: memory for it is bounded.

import type { Request, Response } from 'express';
import { randomBytes } from 'node:crypto';
import type { HostClock } from '../../contract/time.ts';
import type { LiveEventName, ListChanged, LivePicture } from '../../contract/api.ts';
import { BEHIND_BYTES, STUCK_MS, VIEWERS_MAX } from '../../contract/limits.ts';
import { RequestProblem } from '../problem.ts';
import { Frames } from './frames.ts';

const BEAT_MS = 5000;

/** After a lost connection a browser waits so long. */
const RETRY_MS = 1000;

interface Viewer {
  response: Response;
  /** All that it has to know, at first and once it has caught up. */
  fresh: () => Buffer;
  /** It listens for changes of the list alone. */
  changesOnly: boolean;
  /** Since when it has been behind; null: it is not. */
  behind_ms: number | null;
}

export class Hub {
  private readonly viewers = new Set<Viewer>();
  private readonly frames = new Frames(randomBytes(6).toString('hex'));
  private picture: { n: number; bytes: Buffer } | null = null;
  private readonly stopBeat: () => void;

  /** @param pictureNow all that a new viewer has to know */
  constructor(
    private readonly pictureNow: () => LivePicture,
    private readonly clock: HostClock,
  ) {
    this.stopBeat = clock.every(BEAT_MS, () => this.beatAll());
  }

  get count(): number {
    return this.viewers.size;
  }

  send(name: LiveEventName, data: unknown): void {
    const { bytes } = this.frames.make(name, data);
    for (const viewer of this.viewers) if (!viewer.changesOnly) this.give(viewer, bytes);
  }

  sendChanged(data: ListChanged): void {
    const bytes = this.frames.bytesOf('changed', data, null);
    for (const viewer of this.viewers) if (viewer.changesOnly) this.give(viewer, bytes);
  }

  /** Somebody listens for changes of the list. */
  get isListListened(): boolean {
    return [...this.viewers].some(({ changesOnly }) => changesOnly);
  }

  /** A client begins to listen. @throws RequestProblem 503 where there are too many */
  attend(request: Request, response: Response): void {
    const viewer = this.admitted(request, response, () => this.pictureBytes(), false);
    if (viewer === null) return;
    const missed = this.frames.after(request.get('last-event-id'));
    if (missed === null) this.give(viewer, this.pictureBytes());
    else for (const { bytes } of missed) this.give(viewer, bytes);
  }

  /** As `attend`, of a client that shows the list. @param now all that it has to know */
  attendChanges(request: Request, response: Response, now: () => ListChanged): void {
    const fresh = () => this.frames.bytesOf('changed', now(), null);
    const viewer = this.admitted(request, response, fresh, true);
    if (viewer !== null) this.give(viewer, fresh());
  }

  private admitted(request: Request, response: Response, fresh: Viewer['fresh'], changesOnly: boolean): Viewer | null {
    if (this.viewers.size >= VIEWERS_MAX) {
      throw new RequestProblem(503, 'full', `${VIEWERS_MAX} viewers are looking already; close some.`);
    }
    response.writeHead(200, { 'Content-Type': 'text/event-stream; charset=utf-8', 'X-Accel-Buffering': 'no' });
    if (request.method === 'HEAD') {
      response.end();
      return null;
    }
    response.write(`retry: ${RETRY_MS}\n\n`);
    const viewer: Viewer = { response, fresh, changesOnly, behind_ms: null };
    response.on('close', () => void this.viewers.delete(viewer));
    // A client that goes away in the middle of a write is no fault.
    response.on('error', () => void this.viewers.delete(viewer));
    response.on('drain', () => this.caughtUp(viewer));
    this.viewers.add(viewer);
    return viewer;
  }

  private give(viewer: Viewer, bytes: Buffer): void {
    if (viewer.behind_ms !== null) return;
    if (viewer.response.writableLength > BEHIND_BYTES) viewer.behind_ms = this.clock.now_us() / 1000;
    else viewer.response.write(bytes);
  }

  private caughtUp(viewer: Viewer): void {
    if (viewer.behind_ms === null) return;
    viewer.behind_ms = null;
    this.give(viewer, viewer.fresh());
  }

  /** Made once, however many come at the same time. */
  private pictureBytes(): Buffer {
    const n = this.frames.newest;
    if (this.picture?.n !== n) this.picture = { n, bytes: this.frames.bytesOf('picture', this.pictureNow(), n) };
    return this.picture.bytes;
  }

  private beatAll(): void {
    const now_ms = this.clock.now_us() / 1000;
    const bytes = this.frames.bytesOf('beat', { now_ms: this.clock.wall_ms() }, null);
    for (const viewer of this.viewers) {
      if (viewer.behind_ms !== null && now_ms - viewer.behind_ms > STUCK_MS) viewer.response.destroy();
      else this.give(viewer, bytes);
    }
  }

  close(): void {
    this.stopBeat();
    for (const { response } of this.viewers) response.end();
    this.viewers.clear();
  }
}
