// The boards at this computer as they were found last. Looking opens every port for some
// seconds, so it is done when somebody asks for it, once however many ask.

import type { Board, BoardList } from '../../contract/api.ts';
import type { Certificate } from '../../contract/capture.ts';
import { boardNumber } from '../../say/board.ts';
import { checkedWords } from '../../say/certificate.ts';
import type { FoundBoard, Workbench } from './workbench.ts';

export class Boards {
  private found: FoundBoard[] = [];
  private searched_ms: number | null = null;
  private searching: Promise<void> | null = null;
  private trouble: string | null = null;
  private readonly ending = new AbortController();

  /**
   * @param recordedAt name of the capture that a port is being recorded into, null where it is not
   * @param changed called when the list, or that it is being made, has changed
   */
  constructor(
    private readonly bench: Workbench | null,
    private readonly recordedAt: (port: string) => string | null,
    private readonly changed: () => void,
    private readonly wall_ms: () => number,
  ) {}

  list(): BoardList {
    return {
      boards: this.found.map((found) => this.described(found)),
      searching: this.searching !== null,
      searched_ms: this.searched_ms,
      trouble: this.trouble,
    };
  }

  /** Looks again; resolves when the list is new. */
  search(): Promise<void> {
    if (this.searching === null) {
      this.searching = this.look().finally(() => {
        this.searching = null;
        this.changed();
      });
      this.changed();
    }
    return this.searching;
  }

  /** Resolves when no search is going on: it has ports open that a recorder would find in use. */
  async quiet(): Promise<void> {
    await this.searching?.catch(() => undefined);
  }

  private async look(): Promise<void> {
    // A port that is being recorded is not opened again: what it is, is known.
    const kept = this.found.filter(({ port }) => this.recordedAt(port) !== null);
    try {
      const fresh = await (this.bench?.find(
        kept.map(({ port }) => port),
        this.ending.signal,
      ) ?? Promise.resolve([]));
      this.found = [...kept, ...fresh].sort((a, b) => (a.port < b.port ? -1 : 1));
      this.trouble = this.bench === null ? 'This server records no boards.' : null;
    } catch (error) {
      this.trouble = (error as Error).message;
    }
    this.searched_ms = this.wall_ms();
  }

  at(port: string): FoundBoard | null {
    return this.found.find((found) => found.port === port && found.hello !== null) ?? null;
  }

  /** The board of that number. */
  numbered(number: string): FoundBoard | null {
    return this.found.find(({ hello }) => hello !== null && boardNumber(hello.id) === number) ?? null;
  }

  /** Known without looking again: what the board there keeps now. */
  proved(port: string, certificate: Certificate): void {
    this.found = this.found.map((found) => (found.port === port ? { ...found, certificate } : found));
    this.changed();
  }

  private described({ port, about, hello, certificate, trouble }: FoundBoard): Board {
    return {
      port,
      about,
      trouble,
      number: hello === null ? null : boardNumber(hello.id),
      firmware: hello?.fw ?? null,
      sensor: hello?.sensor ?? null,
      checked: certificate === null ? null : checkedWords(certificate, hello?.cal_gen),
      speed: hello?.speed ?? 1,
      recording: this.recordedAt(port),
    };
  }

  async close(): Promise<void> {
    this.ending.abort();
    await this.quiet();
  }
}
