// Proving a board from the page: one proof at a time, led by the same judging and in the same words as in the
// terminal; whoever asks sees the sentence that waits for an answer.

import type { ProofAnswer, ProofNow, ProofOrder, ProofView } from '../../contract/api-prove.ts';
import type { BoardList } from '../../contract/api.ts';
import type { Certificate } from '../../contract/capture.ts';
import { QUESTIONS, STEP_WORDS, WHAT_IT_TAKES } from '../../prove/steps.ts';
import { runProof } from '../../prove/run.ts';
import type { Ending, Hands } from '../../prove/run.ts';
import { MISTAKES } from '../../prove/mistakes.ts';
import { soundWords } from '../../prove/verdict.ts';
import { RequestProblem } from '../problem.ts';
import { sentence } from './bay-desk.ts';
import type { Workbench } from './workbench.ts';

/** Whoever proved went away. */
class Left extends Error {}

interface Running {
  ending: AbortController;
  done: Promise<void>;
  answer: ((value: number | null) => void) | null;
}

export class ProofDesk {
  private view: ProofView | null = null;
  private running: Running | null = null;

  /** @param list the boards as they were found last: no other port is opened, and none while they are looked for */
  constructor(
    private readonly bench: Workbench | null,
    private readonly list: {
      boardList(): Pick<BoardList, 'boards'>;
      quiet(): Promise<void>;
      proved(port: string, certificate: Certificate): void;
    },
  ) {}

  now(): ProofNow {
    return { proof: this.view, takes: WHAT_IT_TAKES };
  }

  /** @throws RequestProblem 404 or 409 with the words for whoever asked */
  begin(order: ProofOrder): ProofNow {
    const board = this.list.boardList().boards.find(({ port }) => port === order.port);
    if (this.bench === null || board === undefined)
      throw new RequestProblem(404, 'no-board', `No port ${order.port} was found; look for boards again.`);
    if (board.recording !== null)
      throw new RequestProblem(409, 'recording', 'This board is being recorded; end that first.');
    if (this.running !== null)
      throw new RequestProblem(409, 'proving', 'A board is being proved already; end that first.');
    this.view = {
      port: order.port,
      asked: (this.view?.asked ?? 0) + 1,
      state: 'opening',
      sentence: 'The board is asked for its hello.',
      remedy: null,
      cautions: [],
      answer: null,
    };
    const running: Running = { ending: new AbortController(), answer: null, done: Promise.resolve() };
    this.running = running;
    running.done = this.prove(this.bench, order, running).finally(() => (this.running = null));
    return this.now();
  }

  /** An answer to a sentence that is gone changes nothing. @throws RequestProblem where it is none */
  answer({ asked, value }: ProofAnswer): ProofNow {
    const { view, running } = this;
    if (view === null || running === null || running.answer === null || view.asked !== asked) return this.now();
    if ((view.answer === null) !== (value === null))
      throw new RequestProblem(409, 'bad-answer', 'This sentence waits for another kind of answer.');
    if (view.answer !== null && (value! < view.answer.least || value! > view.answer.most))
      throw new RequestProblem(
        409,
        'bad-answer',
        `That is no number from ${view.answer.least} to ${view.answer.most} ${view.answer.unit}.`,
      );
    const answer = running.answer;
    running.answer = null;
    this.change({ state: 'listening', sentence: 'The board listens.', cautions: [], answer: null });
    answer(value);
    return this.now();
  }

  /** Ends it; resolves when the port is closed. */
  async leave(): Promise<ProofNow> {
    this.running?.ending.abort();
    await this.running?.done;
    return this.now();
  }

  async close(): Promise<void> {
    await this.leave();
  }

  private change(part: Partial<ProofView>): void {
    this.view = { ...this.view!, ...part, asked: this.view!.asked + 1 };
  }

  private async prove(bench: Workbench, order: ProofOrder, running: Running): Promise<void> {
    try {
      await this.list.quiet();
      const board = await bench.prove(order.port, order.by ?? '', running.ending.signal);
      try {
        const ending = await runProof(board, this.hands(running), order.chip ?? 'ina228');
        const kept = board.kept();
        if (kept !== null) this.list.proved(order.port, kept);
        this.change({ ...endingOf(ending, soundWords(kept)), cautions: [], answer: null });
      } finally {
        await board.close();
      }
    } catch (error) {
      const left = error instanceof Left || running.ending.signal.aborted;
      this.change({
        state: left ? 'left' : 'failed',
        sentence: left
          ? 'Ended before the board was proved; nothing was kept in it.'
          : sentence((error as Error).message),
        cautions: [],
        answer: null,
      });
    }
  }

  private hands(running: Running): Hands {
    const waits = (part: Partial<ProofView>) =>
      new Promise<number | null>((resolve, reject) => {
        const { signal } = running.ending;
        const left = () => reject(new Left());
        if (signal.aborted) return left();
        signal.addEventListener('abort', left, { once: true });
        running.answer = (value) => {
          signal.removeEventListener('abort', left);
          resolve(value);
        };
        this.change({ state: 'asking', ...part });
      });
    return {
      connect: async (step) => {
        const { sentence: what, cautions, meanwhile } = STEP_WORDS[step];
        await waits({ sentence: what, cautions: [...cautions], answer: null });
        if (meanwhile !== undefined) this.change({ sentence: meanwhile });
      },
      read: async (meter) => {
        const { sentence: what, unit, least, most } = QUESTIONS[meter];
        return (await waits({ sentence: what, cautions: [], answer: { unit, least, most } }))!;
      },
    };
  }
}

function endingOf(ending: Ending, sound: string): Pick<ProofView, 'state' | 'sentence' | 'remedy'> {
  if (ending.mistake === null) return { state: 'sound', sentence: sound, remedy: null };
  const { likely, remedy } = MISTAKES[ending.mistake];
  return { state: 'not-sound', sentence: likely, remedy };
}
