// All recordings from this server: begins and ends them, gives them names, finds
// captures that were left unfinished, and goes on with those of a moment ago by itself.

import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { KeptWork } from '../../bay/work/kept-work.ts';
import type {
  BayAction,
  BayStart,
  BayView,
  BoardList,
  FeedTreeAnswer,
  LivePicture,
  RecordingList,
  RecordOrder,
  Recording,
  Unfinished,
} from '../../contract/api.ts';
import type { Certificate } from '../../contract/capture.ts';
import { pause } from '../../contract/time.ts';
import type { HostClock } from '../../contract/time.ts';
import { findFile } from '../folder.ts';
import type { CaptureFile } from '../folder.ts';
import { lockCapture } from '../../recorder/lock.ts';
import { RequestProblem } from '../problem.ts';
import type { Readers } from '../reading/desk.ts';
import type { Shelf } from '../shelf/shelf.ts';
import { Boards } from './boards.ts';
import { actAtDesk, sentence } from './bay-desk.ts';
import { Hub } from './hub.ts';
import { OneRecording } from './one-recording.ts';
import type { RecordingPlan } from './one-recording.ts';
import { boardNumber } from '../../say/board.ts';
import type { FoundBoard, Workbench } from './workbench.ts';

/** An unfinished capture that was written to within this is gone on with unasked: the car is still there. */
const JUST_NOW_MS = 15 * 60_000;
/** Recordings that are over are told for as long as there are not more. */
const OVER_MAX = 10;
/** Connecting takes up to five seconds; who began it is told by then how it went. */
const STARTED_WITHIN_MS = 8000;

export interface RecordingsParts {
  dir: string;
  shelf: Pick<Shelf, 'mayBeUnfinished' | 'learnUnfinished'>;
  /** Null: no board is to be had from here. */
  bench: Workbench | null;
  readers: Pick<Readers, 'unfinished'>;
  clock: HostClock;
  /** Called when a recording may have begun or ended. */
  told?: () => void;
  log: (line: string) => void;
}

export class Recordings {
  readonly hub: Hub;
  private readonly boards: Boards;
  private readonly all = new Map<string, OneRecording>();
  /** Names that a recording is being prepared for. */
  private readonly taken = new Set<string>();
  private readonly known = new Map<string, { version: string; told: ReturnType<Readers['unfinished']> }>();
  private closed = false;

  constructor(private readonly parts: RecordingsParts) {
    this.hub = new Hub(() => this.picture(), parts.clock);
    this.boards = new Boards(
      parts.bench,
      (port) => this.recordedAt(port),
      () => this.hub.send('boards', this.boards.list()),
      () => parts.clock.wall_ms(),
    );
  }

  /** Resolves when no search for boards has a port open. */
  quiet(): Promise<void> {
    return this.boards.quiet();
  }

  boardList(): BoardList {
    return this.boards.list();
  }

  /** What the board at a port keeps now. */
  proved(port: string, certificate: Certificate): void {
    this.boards.proved(port, certificate);
  }

  /** Begins to look for boards. */
  search(): BoardList {
    void this.boards.search();
    return this.boards.list();
  }

  /** Those that run, and the last that ran. */
  current(): Recording[] {
    return [...this.all.values()].map((one) => one.now());
  }

  get running(): number {
    return [...this.all.values()].filter((one) => one.running).length;
  }

  /** Looks for boards; resolves with what is there. */
  async searched(): Promise<BoardList['boards']> {
    await this.boards.search();
    return this.boards.list().boards;
  }

  private picture(): LivePicture {
    const all = [...this.all.values()];
    return {
      recordings: all.map((one) => one.now()),
      traces: all.filter((one) => one.running).map((one) => one.trace()),
      bays: all.flatMap(({ plan: { name, bay } }) => (bay === null ? [] : [{ name, view: bay.view }])),
    };
  }

  private recordedAt(port: string): string | null {
    for (const one of this.all.values()) if (one.running && one.plan.board.port === port) return one.plan.name;
    return null;
  }

  async list(): Promise<RecordingList> {
    return { recordings: [...this.all.values()].map((one) => one.now()), unfinished: await this.unfinished() };
  }

  private async unfinished(): Promise<Unfinished[]> {
    const found: Unfinished[] = [];
    for (const name of await this.parts.shelf.mayBeUnfinished()) {
      const file = this.all.get(name)?.running === true ? null : await findFile(this.parts.dir, name).catch(() => null);
      if (file === null) continue;
      const told = /\.nightdraw$/i.test(name) ? await this.looked(file) : null;
      if (this.closed) return found;
      this.parts.shelf.learnUnfinished(name, file.version, told !== null);
      if (told !== null && !recordedElsewhere(file.path))
        found.push({ name: file.name, written_ms: file.written_ms, ...told });
    }
    return found;
  }

  /** Each version of a file is looked into once. */
  private looked({ name, path, version }: CaptureFile): Promise<Awaited<ReturnType<Readers['unfinished']>>> {
    const known = this.known.get(name);
    if (known?.version === version) return known.told;
    const told = this.parts.readers.unfinished({ path, version }).catch(() => null);
    this.known.set(name, { version, told });
    return told;
  }

  /**
   * Begins a recording; resolves when it runs.
   * @throws RequestProblem 404 where there is no such board or capture, 409 where it is recorded already, 422 where it
   * cannot be
   */
  async begin(order: RecordOrder): Promise<Recording> {
    const { bench } = this.parts;
    if (bench === null || this.closed) throw new RequestProblem(409, 'no-boards', 'This server records no boards.');
    await this.boards.quiet();
    const plan = 'resume' in order ? await this.planToResume(order.resume) : this.planOf(order);
    const busy = this.recordedAt(plan.board.port);
    if (busy !== null)
      throw new RequestProblem(
        409,
        'recorded',
        `The board at ${plan.board.port} is being recorded into ${busy} already; end that first.`,
      );
    const tell: typeof this.hub.send = (name, data) => {
      this.hub.send(name, data);
      if (name === 'status') this.parts.told?.();
    };
    const one = new OneRecording(plan, bench, tell, this.parts.clock);
    this.all.set(plan.name, one);
    this.taken.delete(plan.name);
    this.forgetOld();
    void one.over.then(() => {
      this.hub.send('boards', this.boards.list());
      this.parts.told?.();
    });
    const waited = new AbortController();
    await Promise.race([one.started, pause(this.parts.clock, STARTED_WITHIN_MS, waited.signal)]);
    waited.abort();
    const now = one.now();
    if (now.state === 'failed') {
      this.all.delete(plan.name);
      this.parts.told?.();
      this.hub.send('picture', this.picture());
      throw new RequestProblem(422, 'not-recorded', `${now.trouble}.`);
    }
    this.hub.send('boards', this.boards.list());
    return now;
  }

  private planOf(order: Extract<RecordOrder, { port: string }>): RecordingPlan {
    const found = this.boards.at(order.port);
    // Only what was found as a board is opened: a name from outside opens no other device of this computer.
    if (found === null)
      throw new RequestProblem(
        404,
        'no-board',
        `No board was found at ${JSON.stringify(order.port)}; look for boards again.`,
      );
    const name = this.freshName(boardNumber(found.hello!.id));
    const { plate, vehicle, customer } = order;
    const personal = Object.fromEntries(
      Object.entries({ plate, vehicle, customer }).filter(([, text]) => text !== undefined && text !== ''),
    );
    return {
      name,
      path: join(this.parts.dir, name),
      board: at(found),
      job: order.job ?? '',
      personal,
      for_s: order.for_s ?? null,
      bay: order.bay === undefined ? null : newWork(join(this.parts.dir, name), order.bay),
    };
  }

  private async planToResume(name: string): Promise<RecordingPlan> {
    const file = await findFile(this.parts.dir, name);
    if (this.all.get(name)?.running === true)
      throw new RequestProblem(409, 'recorded', `${name} is being recorded already.`);
    const told = await this.looked(file);
    if (told === null)
      throw new RequestProblem(409, 'finished', `${name} is no unfinished recording; begin a new one.`);
    if (told.board !== null && this.boards.numbered(told.board) === null) await this.boards.search();
    const found = told.board === null ? null : this.boards.numbered(told.board);
    if (found === null)
      throw new RequestProblem(
        404,
        'no-board',
        `The board of ${name}${told.board === null ? '' : `, number ${told.board},`} was not found; plug it in and try again.`,
      );
    return {
      name,
      path: file.path,
      board: at(found),
      job: told.job,
      personal: {},
      for_s: null,
      bay: told.bay ? KeptWork.open(file.path, null) : null,
    };
  }

  /** Sorts by time in any list of files, and says which board it was. */
  private freshName(number: string): string {
    const now = new Date(this.parts.clock.wall_ms());
    const two = (n: number) => String(n).padStart(2, '0');
    const base = `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}-${two(now.getHours())}${two(now.getMinutes())}-${number}`;
    for (let i = 1; ; i++) {
      const name = `${base}${i === 1 ? '' : `-${i}`}.nightdraw`;
      if (this.taken.has(name) || this.all.has(name) || existsSync(join(this.parts.dir, name))) continue;
      this.taken.add(name);
      return name;
    }
  }

  private forgetOld(): void {
    const over = [...this.all.values()].filter((one) => !one.running);
    for (const one of over.slice(0, Math.max(0, over.length - OVER_MAX))) this.all.delete(one.plan.name);
  }

  /** Ends a recording; resolves when its file is finished. @throws RequestProblem 404 */
  async stop(name: string): Promise<Recording> {
    const one = this.all.get(name);
    if (one === undefined)
      throw new RequestProblem(
        404,
        'no-recording',
        `${JSON.stringify(name.slice(0, 80))} is not being recorded from here.`,
      );
    one.stop();
    await one.over;
    return one.now();
  }

  /**
   * Something done or read at the car.
   * @throws RequestProblem 404 where there is no such work, 409 with the words for who did it where it makes no sense
   * now
   */
  act(name: string, action: BayAction): BayView {
    return actAtDesk(this.workAt(name), action, this.parts.clock.wall_ms());
  }

  /** The feed tree that the work goes by. @throws RequestProblem 404 where there is no such work */
  feedTree(name: string): FeedTreeAnswer {
    return this.workAt(name).tree;
  }

  /** Stops for now: the capture stays unfinished, so that the work can be gone on with. @throws RequestProblem 404 */
  async leave(name: string): Promise<Recording> {
    const one = this.all.get(name);
    this.workAt(name);
    one!.leave();
    await one!.over;
    return one!.now();
  }

  private workAt(name: string): KeptWork {
    const bay = this.all.get(name)?.plan.bay ?? null;
    if (bay === null)
      throw new RequestProblem(
        404,
        'no-work',
        `${JSON.stringify(name.slice(0, 80))} is not being recorded with work in the bay.`,
      );
    return bay;
  }

  /** Goes on with what was being recorded a moment ago, before the server was stopped or the power failed. */
  async goOn(): Promise<void> {
    if (this.parts.bench === null) return;
    const recent = (await this.unfinished()).filter(
      ({ written_ms }) => this.parts.clock.wall_ms() - written_ms < JUST_NOW_MS,
    );
    for (const { name } of recent) {
      if (this.closed) return;
      await this.begin({ resume: name }).then(
        () => this.parts.log(`goes on recording ${name}`),
        (error: Error) => this.parts.log(`${name} is an unfinished recording: ${error.message}`),
      );
    }
  }

  /** Leaves all that run unfinished, with everything that came in their files. */
  async close(): Promise<void> {
    this.closed = true;
    const all = [...this.all.values()];
    for (const one of all) one.leave();
    await Promise.all([this.boards.close(), ...all.map((one) => one.over)]);
    this.hub.close();
  }
}

/** @throws RequestProblem 422 with the first mistake in the tree */
function newWork(path: string, { tree, allowance_mA = 50, meter_mV = 0.1 }: BayStart): KeptWork {
  try {
    return KeptWork.open(path, { treeText: tree, options: { allowance_mA, step_mV: meter_mV } });
  } catch (error) {
    throw new RequestProblem(422, 'bad-tree', sentence((error as Error).message));
  }
}

const at = ({ port, hello }: FoundBoard): Recording['board'] => ({
  port,
  number: boardNumber(hello!.id),
  speed: hello!.speed,
});

/** A recorder in another terminal holds the capture's lock; one that was stopped hard holds it no more. */
function recordedElsewhere(path: string): boolean {
  try {
    lockCapture(path).release();
    return false;
  } catch {
    return true;
  }
}
