// Tells a web address what happened to a night. Each event is sent in order until the
// other side has taken it, and never again after that; nobody waits for it meanwhile.

import { pause } from '../contract/time.ts';
import type { Time } from '../contract/time.ts';

export interface NotifyEvent {
  event: 'night-done' | 'recording-stopped' | 'board-silent' | 'battery-low';
  /** The capture's file name. */
  capture: string;
  sentence: string;
}

export interface WebhookTimes {
  /** An answer that takes longer is none. */
  answer_ms: number;
  /** Wait before the second attempt; doubled each time up to the other. */
  again_ms: number;
  again_ms_max: number;
}

const TIMES: WebhookTimes = { answer_ms: 10_000, again_ms: 1000, again_ms_max: 60_000 };

/** More than a night gives; an address that is never there must not fill the memory. */
const WAITING_MAX = 100;

/** These will be no better the next time: the other side understood and refused. */
const isRefusal = (status: number) =>
  status >= 400 && status < 500 && status !== 408 && status !== 425 && status !== 429;

export class Webhook {
  private readonly waiting: (NotifyEvent & { id: string; at: string })[] = [];
  private running: Promise<void> | null = null;
  private readonly ended = new AbortController();

  /** @param onTrouble told once for each event that is refused or given up, in one sentence */
  constructor(
    private readonly url: string,
    private readonly onTrouble: (text: string) => void,
    private readonly time: Time,
    private readonly times = TIMES,
  ) {}

  /** Returns at once. `id` stays the same over all attempts, for a receiver that answered too late. */
  tell(event: NotifyEvent): void {
    if (this.waiting.length >= WAITING_MAX)
      return this.onTrouble(
        `${WAITING_MAX} notices wait for the web address already; this one is not sent: ${event.event}`,
      );
    this.waiting.push({ ...event, id: crypto.randomUUID(), at: new Date().toISOString() });
    this.running ??= this.run();
  }

  /** Waits for what is to be sent, but no longer than `most_ms`. */
  async close(most_ms: number): Promise<void> {
    if (this.running === null) return;
    const cancel = this.time.after(most_ms, () => this.ended.abort());
    await this.running;
    cancel();
    if (this.waiting.length > 0)
      this.onTrouble(
        `${this.waiting.length} notices were not taken by the web address; see --notify, or notify_url in nightdraw.json`,
      );
  }

  private async run(): Promise<void> {
    let pause_ms = this.times.again_ms;
    while (this.waiting.length > 0 && !this.ended.signal.aborted) {
      const status = await this.send(JSON.stringify(this.waiting[0]));
      if (status !== null && (isRefusal(status) || (status >= 200 && status < 300))) {
        const { event } = this.waiting.shift()!;
        if (isRefusal(status))
          this.onTrouble(
            `the web address refused the notice ${event} (status ${status}); see --notify, or notify_url in nightdraw.json`,
          );
        pause_ms = this.times.again_ms;
        continue;
      }
      await pause(this.time, pause_ms, this.ended.signal);
      pause_ms = Math.min(2 * pause_ms, this.times.again_ms_max);
    }
    this.running = null;
  }

  /** The status of the answer, null without one in time. */
  private async send(body: string): Promise<number | null> {
    // Not AbortSignal.any with AbortSignal.timeout: Node 20 collects them as garbage under
    // a fetch that waits, and then no timeout comes, ever.
    const attempt = new AbortController();
    const stop = () => attempt.abort();
    const cancel = this.time.after(this.times.answer_ms, stop);
    this.ended.signal.addEventListener('abort', stop);
    try {
      // A redirection is no taking: the notice would go where nobody named.
      const answer = await fetch(this.url, {
        method: 'POST',
        headers: { 'content-type': 'application/json' },
        body,
        redirect: 'manual',
        signal: attempt.signal,
      });
      await answer.body?.cancel();
      return answer.status;
    } catch {
      return null;
    } finally {
      cancel();
      this.ended.signal.removeEventListener('abort', stop);
    }
  }
}
