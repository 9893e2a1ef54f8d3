// A client of the live stream that checks every event against its schema.
import { request } from 'node:http';
import type { ClientRequest } from 'node:http';
import { liveEvents } from '../../../host/contract/api.ts';
import type { LiveEventName, LiveWindow } from '../../../host/contract/api.ts';

export interface Heard {
  name: LiveEventName;
  id: string | undefined;
  data: unknown;
  at_ms: number;
}

export class Listener {
  readonly heard: Heard[] = [];
  status = 0;
  ended = false;
  private rest = '';
  private readonly asking: ClientRequest;

  /** @param checks false: many listeners at once would only measure the checking */
  constructor(
    port: number,
    lastId?: string,
    private readonly checks = true,
    path = '/api/live',
  ) {
    this.asking = request(
      { host: '127.0.0.1', port, path, headers: lastId === undefined ? {} : { 'last-event-id': lastId } },
      (response) => {
        this.status = response.statusCode ?? 0;
        response
          .setEncoding('utf8')
          .on('data', (part: string) => this.take(part))
          .on('close', () => (this.ended = true));
      },
    );
    this.asking.on('error', () => (this.ended = true)).end();
  }

  private take(part: string): void {
    const blocks = (this.rest + part).split('\n\n');
    this.rest = blocks.pop()!;
    for (const block of blocks) {
      const field = (name: string) => new RegExp(`^${name}: (.*)$`, 'm').exec(block)?.[1];
      const name = field('event') as LiveEventName | undefined;
      if (name === undefined) continue;
      const data = JSON.parse(field('data')!) as unknown;
      if (this.checks) liveEvents[name].parse(data);
      this.heard.push({ name, id: field('id'), data, at_ms: performance.now() });
    }
  }

  of<T>(name: LiveEventName): (Heard & { data: T })[] {
    return this.heard.filter((event) => event.name === name) as (Heard & { data: T })[];
  }

  /** Windows of a capture, those of the picture first. */
  windows(capture: string): LiveWindow[] {
    const pictured = this.of<{ traces: { name: string; windows: LiveWindow[] }[] }>('picture')
      .flatMap(({ data }) => data.traces)
      .filter(({ name }) => name === capture)
      .flatMap(({ windows }) => windows);
    const after = this.of<{ name: string; windows: LiveWindow[] }>('readings')
      .filter(({ data }) => data.name === capture)
      .flatMap(({ data }) => data.windows);
    return [...pictured, ...after];
  }

  get lastId(): string | undefined {
    return this.heard
      .map(({ id }) => id)
      .filter((id) => id !== undefined)
      .at(-1);
  }

  close(): void {
    this.asking.destroy();
  }
}
