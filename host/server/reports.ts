// Reports and folders for the job file, asked for from the page: one is made at a time, and
// who makes them is given to the server.

import { dirname, sep } from 'node:path';
import type { Told } from '../contract/settings.ts';
import type { JobQuestion, ReportQuestion } from '../contract/api.ts';
import { findFile } from './folder.ts';
import { ITSELF } from './asker.ts';
import { REPORTS_WAITING_MAX } from '../contract/limits.ts';
import type { Asker } from './asker.ts';
import { NobodyWaits, RequestProblem } from './problem.ts';
import { Turns } from './turns.ts';

export interface JobOrder extends Pick<JobQuestion, 'paper'> {
  path: string;
  /** Paths of the night before the repair and of the work in the bay. */
  before: string | null;
  bay: string | null;
  /** Number plate, vehicle identity and customer too. */
  personal: boolean;
  told: Told;
}

export interface ReportOrder extends JobOrder {
  format: ReportQuestion['format'];
}

export interface MadeReport {
  /** What the file is to be called. */
  name: string;
  bytes: Uint8Array;
}

/** Names, without where they lie on this computer. */
export interface MadeFolder {
  folder: string;
  files: string[];
}

/** Each rejects with an Error in one sentence. */
export interface ReportMaker {
  report: (order: ReportOrder, signal: AbortSignal) => Promise<MadeReport>;
  /** Written beside the capture. */
  folder: (order: JobOrder, signal: AbortSignal) => Promise<MadeFolder>;
}

export class Reports {
  private readonly turns = new Turns();
  private readonly ended = new AbortController();
  private waiting = 0;

  /** @param maker null: this server makes none */
  constructor(
    private readonly dir: string,
    private readonly maker: ReportMaker | null,
  ) {}

  /** @param asker where it has gone, no report is made, and one that is being made is broken off */
  of(name: string, { format, ...question }: ReportQuestion, asker: Asker = ITSELF): Promise<MadeReport> {
    return this.made(name, question, asker, (maker, order, signal) => maker.report({ ...order, format }, signal));
  }

  /** Writes capture, report and readings into a folder beside the capture, to its end even where who asked has gone. */
  folder(name: string, question: JobQuestion): Promise<MadeFolder> {
    return this.made(name, question, ITSELF, (maker, order, signal) => maker.folder(order, signal));
  }

  private async made<T>(
    name: string,
    { paper, before, bay, personal, told }: JobQuestion,
    asker: Asker,
    make: (maker: ReportMaker, order: JobOrder, signal: AbortSignal) => Promise<T>,
  ): Promise<T> {
    const { maker } = this;
    if (maker === null)
      throw new RequestProblem(404, 'no-report', "This server makes no reports; 'nightdraw report' does.");
    const found = (one: string | undefined) => (one === undefined ? Promise.resolve(null) : findFile(this.dir, one));
    const [file, earlier, work] = await Promise.all([findFile(this.dir, name), found(before), found(bay)]);
    if (this.waiting >= REPORTS_WAITING_MAX)
      throw new RequestProblem(
        503,
        'busy',
        `${REPORTS_WAITING_MAX} reports are being made already; ask again in a moment.`,
      );
    this.waiting++;
    try {
      const order: JobOrder = {
        path: file.path,
        before: earlier?.path ?? null,
        bay: work?.path ?? null,
        personal: personal === 'yes',
        told,
        paper,
      };
      return await this.turns.add(order, () => {
        if (asker.gone.aborted) throw new NobodyWaits();
        return make(maker, order, AbortSignal.any([this.ended.signal, asker.gone]));
      });
    } catch (error) {
      if (error instanceof RequestProblem) throw error;
      // Without where the files lie on this computer.
      const said = [file, earlier, work]
        .reduce((text, one) => (one === null ? text : text.replaceAll(one.path, one.name)), (error as Error).message)
        .replaceAll(`${dirname(file.path)}${sep}`, '');
      throw new RequestProblem(422, 'no-report', `${said}.`);
    } finally {
      this.waiting--;
    }
  }

  async close(): Promise<void> {
    const end = this.turns.close(new RequestProblem(503, 'closing', 'The server is stopping.'));
    this.ended.abort();
    await end;
  }
}
