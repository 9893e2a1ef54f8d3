// `bay` at the car: records the board, leads through the work by its live readings and
// the keys, and keeps all of it in the capture.

import { current } from '../say/quantities.ts';
import { KeptWork } from '../bay/work/kept-work.ts';
import type { WorkStart } from '../bay/work/kept-work.ts';
import { BayProblem } from '../bay/work/work.ts';
import type { BayAction } from '../contract/api-bay.ts';
import { listPorts } from '../link/ports.ts';
import { openSerialPort } from '../link/serial-port.ts';
import { realDisk } from '../recorder/disk.ts';
import { LiveFeed } from '../recorder/live.ts';
import type { LiveReading } from '../recorder/live.ts';
import { record } from '../recorder/record.ts';
import { BayKeys, KEY_HELP, keysOf } from './bay-keys.ts';
import { BayScreen } from './bay-screen.ts';
import { hostClock } from './host-clock.ts';

declare const NIGHTDRAW_VERSION: string;

const SHOW_EVERY_MS = 500;
/** A current older than this is no current: the board is silent or unplugged. */
const STALE_us = 3e6;

export interface AtTheCar {
  port: string;
  out: string;
  start: WorkStart | null;
  low_V: number;
  signal: AbortSignal;
  input: NodeJS.ReadStream;
  output: NodeJS.WriteStream;
}

/** Ends the recording and leaves it unfinished, so that it can be gone on with. */
class LeftForLater extends Error {}

/** @returns the last words, for standard output */
export async function workAtTheCar(options: AtTheCar): Promise<string> {
  const kept = KeptWork.open(options.out, options.start);
  const ending = new AbortController();
  const car = new Car(kept, options, () => ending.abort());
  const stop = () => car.quit();
  options.signal.addEventListener('abort', stop);
  const live = new LiveFeed();
  live.subscribe((heard) => car.hear(heard));
  try {
    await record({
      port: options.port,
      out: options.out,
      for_s: null,
      job: null,
      origin: null,
      personal: {},
      software: NIGHTDRAW_VERSION,
      low_V: options.low_V,
      live,
      listPorts,
      openPort: openSerialPort,
      disk: realDisk,
      clock: hostClock,
      signal: ending.signal,
      wanted: ({ speed }) => ({ stream: speed === 1 ? 'bursts' : 'windows', window_us: 50_000, trigger_uA: 20_000 }),
      onProgress: () => car.recorded(),
      onNote: (text) => car.note(text),
    });
  } catch (error) {
    if (!(error instanceof LeftForLater)) throw error;
  } finally {
    options.signal.removeEventListener('abort', stop);
    car.end();
  }
  return car.lastWords(options.out);
}

class Car {
  private readonly keys = new BayKeys();
  private readonly screen: BayScreen;
  private current_mA: number | null = null;
  private current_us = 0;
  private begun = false;
  private leaving = false;
  private left: string | null = null;
  private readonly timer: NodeJS.Timeout;
  private readonly onKeys = (bytes: Buffer) => keysOf(bytes.toString('utf8')).forEach((key) => this.press(key));

  constructor(
    private readonly kept: KeptWork,
    private readonly options: AtTheCar,
    private readonly finish: () => void,
  ) {
    this.screen = new BayScreen(options.output);
    if (kept.resumed) this.screen.passOver(kept.view);
    kept.onView((view) => this.begun && this.screen.show(view));
    this.timer = setInterval(() => this.tick(), SHOW_EVERY_MS);
    options.input.setRawMode(true);
    options.input.on('data', this.onKeys);
    options.input.resume();
    // The terminal is gone: what was done is kept, and can be gone on with.
    options.input.on('end', () => this.quit());
    this.screen.print(`${kept.resumed ? 'Going on. ' : ''}Keys: ? shows them, q stops.`);
  }

  /** After each commit of the recorder. @throws where the recording is to end and be left unfinished */
  recorded(): void {
    const { kept } = this;
    kept.committed();
    if (!this.begun) this.screen.show(kept.view);
    this.begun = true;
    if (!this.leaving || this.left !== null) return;
    this.left = kept.leave() ?? '';
    if (kept.view.stage === 'done') this.finish();
    else throw new LeftForLater('stopped');
  }

  hear(heard: LiveReading): void {
    const { reading } = heard;
    this.kept.hear(heard);
    if (reading.kind === 'window') [this.current_mA, this.current_us] = [reading.mean_uA / 1000, hostClock.now_us()];
  }

  private tick(): void {
    if (!this.begun) return;
    if (hostClock.now_us() - this.current_us > STALE_us) this.current_mA = null;
    this.screen.status(this.kept.view, this.current_mA, this.keys.typed);
  }

  note(text: string): void {
    this.screen.say(text);
  }

  quit(): void {
    // Before anything is recorded there is nothing to keep.
    if (!this.begun) this.finish();
    this.leaving = true;
  }

  private press(key: string): void {
    if (this.leaving) return;
    const { view } = this.kept;
    const result = this.keys.press(key, view.answers, view.bridge);
    switch (result.kind) {
      case 'quit':
        return this.quit();
      case 'help':
        return this.screen.help(KEY_HELP);
      case 'places':
        return this.screen.places(view);
      case 'say':
        return this.screen.say(result.text);
      case 'act':
        return this.act(result.action);
      case 'typing':
        return this.tick();
      case 'nothing':
        return;
    }
  }

  private act(action: BayAction): void {
    if (!this.begun) return;
    try {
      this.kept.act(action, hostClock.wall_ms());
      if (this.kept.view.stage === 'done') this.quit();
    } catch (error) {
      // Any other fault ends the recording at its next commit.
      if (error instanceof BayProblem) this.screen.say(error.message);
    }
  }

  end(): void {
    clearInterval(this.timer);
    this.screen.end();
    this.options.input.off('data', this.onKeys);
    this.options.input.setRawMode(false);
    this.options.input.pause();
    this.kept.close();
  }

  lastWords(out: string): string {
    const { named, finished, stage } = this.kept.view;
    if (!this.begun) return 'stopped before anything was recorded';
    const done = stage === 'done';
    const found = named.map((one) => `${one.name} ${current(one.amount_mA)} (${one.way})`).join(', ');
    return [
      found !== '' && `named: ${found}`,
      done ? `${out}: finished` : finished !== null && `${out}: ${finished}`,
      // The end of a search says itself what is out.
      finished === null && this.left,
      !done && `to go on: nightdraw bay --out ${out}`,
    ]
      .filter(Boolean)
      .join('\n');
  }
}
