// The live stream as the page hears it: connects again when the server went away, when
// the tablet slept, or when nothing has come for too long. Says how it stands.

import type {
  BayView,
  BoardList,
  ListChanged,
  LiveEventName,
  LivePicture,
  LiveStep,
  LiveWindow,
  Recording,
} from '../../host/contract/api.ts';

/** The server beats every five seconds (api-live.ts): three missed are a dead connection. */
const DEAD_MS = 15_000;
/** After a sleep the connection may look open and be dead; a shorter silence is no proof of life then. */
const DOUBTED_MS = 6000;
const AGAIN_MS = 1000;
const LOOK_MS = 1000;

export interface LiveData {
  picture: LivePicture;
  status: Recording;
  readings: { name: string; windows: LiveWindow[] };
  step: { name: string; step: LiveStep };
  bay: { name: string; view: BayView };
  boards: BoardList;
  changed: ListChanged;
  beat: { now_ms: number };
}

export type Taker = <N extends LiveEventName>(name: N, data: LiveData[N]) => void;

/** `since_ms`: on the page's clock. */
export type Connection = { state: 'connecting' | 'open' | 'lost'; since_ms: number };

export class Stream {
  private source: EventSource | null = null;
  private heard_ms: number;
  private timer: ReturnType<typeof setTimeout> | null = null;
  private connection: Connection;

  /**
   * @param now_ms a clock that only moves forward
   * @param take takes each event
   * @param tell told when the connection is another
   * @param refused called each time that a server answered, but did not let it listen
   * @param changesOnly only changes of the list of captures, and only while somebody looks at the page
   */
  constructor(
    private readonly now_ms: () => number,
    private readonly take: Taker,
    private readonly tell: (connection: Connection) => void,
    private readonly refused: () => void,
    private readonly changesOnly = false,
  ) {
    this.heard_ms = now_ms();
    this.connection = { state: 'connecting', since_ms: this.heard_ms };
    if (!this.sleeps) this.connect();
    setInterval(() => this.watch(DEAD_MS), LOOK_MS);
    document.addEventListener('visibilitychange', () => this.seen());
    // The system tells of the network before any time is up.
    addEventListener('online', () => this.again(0));
  }

  get state(): Connection {
    return this.connection;
  }

  /** Nobody looks, and nobody listens either. */
  private get sleeps(): boolean {
    return this.changesOnly && document.hidden;
  }

  private seen(): void {
    if (!document.hidden && this.source !== null) this.watch(DOUBTED_MS);
    else if (this.sleeps) {
      this.source?.close();
      this.source = null;
      this.become('connecting');
    } else if (this.source === null) this.connect();
  }

  private connect(): void {
    this.source?.close();
    this.heard_ms = this.now_ms();
    const source = (this.source = new EventSource(`api/live${this.changesOnly ? '?only=changes' : ''}`));
    const names: LiveEventName[] = ['picture', 'status', 'readings', 'step', 'bay', 'boards', 'changed', 'beat'];
    for (const name of names)
      source.addEventListener(name, (event) => this.heard(source, name, event as MessageEvent<string>));
    source.addEventListener('error', () => {
      if (source !== this.source) return;
      this.become('lost');
      // Where it was refused the browser does not try again by itself, and why is not told to it.
      if (source.readyState !== EventSource.CLOSED) return;
      this.refused();
      this.again(AGAIN_MS);
    });
  }

  private heard(source: EventSource, name: LiveEventName, { data }: MessageEvent<string>): void {
    if (source !== this.source) return;
    this.heard_ms = this.now_ms();
    this.become('open');
    this.take(name, JSON.parse(data) as LiveData[typeof name]);
  }

  private become(state: Connection['state']): void {
    if (this.connection.state === state) return;
    this.connection = { state, since_ms: this.now_ms() };
    this.tell(this.connection);
  }

  private watch(most_ms: number): void {
    if (this.sleeps || this.timer !== null || this.now_ms() - this.heard_ms < most_ms) return;
    this.become('lost');
    this.again(0);
  }

  private again(after_ms: number): void {
    if (this.timer !== null) clearTimeout(this.timer);
    this.timer = setTimeout(() => {
      this.timer = null;
      if (!this.sleeps) this.connect();
    }, after_ms);
  }
}
