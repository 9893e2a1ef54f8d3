// Reports for the job file, asked for from the page: one is made at a time, and who makes
// them is given to the server.

import type { Told } from '../contract/settings.ts';
import type { ReportQuestion } from '../contract/api.ts';
import { findFile } from './folder.ts';
import { ITSELF } from './asker.ts';
import { REPORTS_WAITING_MAX } from '../contract/limits.ts';
import type { Asker } from './asker.ts';
import { NobodyWaits, RequestProblem } from './problem.ts';
import { Turns } from './turns.ts';

export interface ReportOrder extends Pick<ReportQuestion, 'format' | 'paper'> {
  path: string;
  /** Paths of the night before the repair and of the work in the bay. */
  before: string | null;
  bay: string | null;
  /** Number plate, vehicle identity and customer too. */
  personal: boolean;
  told: Told;
}

export interface MadeReport {
  /** What the file is to be called. */
  name: string;
  bytes: Uint8Array;
}

/** Rejects with an Error in one sentence. */
export type MakeReport = (order: ReportOrder, signal: AbortSignal) => Promise<MadeReport>;

export class Reports {
  private readonly turns = new Turns();
  private readonly ended = new AbortController();
  private waiting = 0;

  /** @param make null: this server makes none */
  constructor(
    private readonly dir: string,
    private readonly make: MakeReport | null,
  ) {}

  /** @param asker where it has gone, no report is made, and one that is being made is broken off */
  async of(
    name: string,
    { format, paper, before, bay, personal, told }: ReportQuestion,
    asker: Asker = ITSELF,
  ): Promise<MadeReport> {
    const { make } = this;
    if (make === null)
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
      const order: ReportOrder = {
        path: file.path,
        before: earlier?.path ?? null,
        bay: work?.path ?? null,
        personal: personal === 'yes',
        told,
        format,
        paper,
      };
      return await this.turns.add(order, () => {
        if (asker.gone.aborted) throw new NobodyWaits();
        return make(order, AbortSignal.any([this.ended.signal, asker.gone]));
      });
    } catch (error) {
      if (error instanceof RequestProblem) throw error;
      // Without where the files lie on this computer.
      const said = [file, earlier, work].reduce(
        (text, one) => (one === null ? text : text.replaceAll(one.path, one.name)),
        (error as Error).message,
      );
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
