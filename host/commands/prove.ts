// `prove`: leads through the check of a new board with two resistors and a meter, one sentence at a time, and
// keeps in the board what came of it.
import { createInterface } from 'node:readline';
import { openSerialPort } from '../link/serial-port.ts';
import { BY_BYTES_MOST } from '../link/certificate.ts';
import { LOAD_W, QUESTIONS, STEP_WORDS, WHAT_IT_TAKES } from '../prove/steps.ts';
import type { Question } from '../prove/steps.ts';
import { verdictWords } from '../prove/verdict.ts';
import { runProof } from '../prove/run.ts';
import type { BoardToProve, Hands } from '../prove/run.ts';
import { sentence } from './columns.ts';
import { requiredText, UsageError } from './command.ts';
import type { Command, OptionValues } from './command.ts';
import { boardAtHand } from './proved-board.ts';
import { hostClock } from './host-clock.ts';
import { stopSignal } from './stop.ts';
import { answer, plainOf } from './tell.ts';

const CHIPS = ['ina228', 'ina226'] as const;

export const command: Command = {
  help: `nightdraw prove --port PATH [--by NAME] [--chip ina226]

${sentence(`Off the car, one sentence at a time: zero, gain at three currents, noise, change of range, voltage, temperature, clock, fuses. ${WHAT_IT_TAKES} Each resistor turns up to ${LOAD_W} W to heat, for some seconds.`)}

Names the likely mistake and what to do, or keeps a certificate in the board: it
goes into each capture and its report. Answer with Enter, a number, y or n; q ends
it. Exit code 1 where the board is not sound.

  --port PATH     serial port of the board
  --by NAME       who proves it, up to 27 letters; 'nightdraw forget' takes the
                  name out of a capture
  --chip NAME     the chip that was meant: ina228 (default) or ina226`,
  options: { port: { type: 'string' }, by: { type: 'string' }, chip: { type: 'string' } },
  choices: { chip: CHIPS },
  positionals: 0,
  async run(values) {
    const port = requiredText(values, 'port', '/dev/ttyUSB0');
    const by = nameOf(values);
    const chip = chipOf(values);
    const lines = new Lines();
    const signal = stopSignal();
    signal.addEventListener('abort', () => lines.close());
    let board: BoardToProve | null = null;
    try {
      board = await boardAtHand(port, by, { clock: hostClock, openPort: openSerialPort }, signal);
      say(WHAT_IT_TAKES);
      const ending = await runProof(board, handsAt(lines), chip);
      say(verdictWords(ending, board.kept()));
      return ending.mistake === null ? 0 : 1;
    } finally {
      lines.close();
      await board?.close();
    }
  },
};

function nameOf(values: OptionValues): string {
  const text = values['by'];
  const name = typeof text === 'string' ? plainOf(text).trim() : '';
  if (Buffer.byteLength(name) > BY_BYTES_MOST)
    throw new UsageError(
      `--by ${name} is too long: ${Buffer.byteLength(name)} bytes, and ${BY_BYTES_MOST} are the most`,
    );
  return name;
}

function chipOf(values: OptionValues): string {
  const text = values['chip'] ?? 'ina228';
  const chip = CHIPS.find((known) => known === text);
  if (chip === undefined) throw new UsageError(`--chip ${String(text)} is none of ${CHIPS.join(', ')}`);
  return chip;
}

const say = (text: string): void => answer(sentence(text));

function handsAt(lines: Lines): Hands {
  return {
    async connect(step) {
      const { sentence: what, cautions, meanwhile } = STEP_WORDS[step];
      for (const caution of cautions) answer(sentence(caution, '! ', '  '));
      say(`${what} Then Enter.`);
      await lines.next();
      say(meanwhile ?? 'The board listens.');
    },
    async read(meter) {
      const question = QUESTIONS[meter];
      for (;;) {
        say(`${question.sentence} (${question.unit})`);
        const value = valueOf(await lines.next(), question);
        if (value !== null) return value;
        say(
          question.unit === 'yes or no'
            ? 'Answer with y or n.'
            : `That is no number from ${question.least} to ${question.most} ${question.unit}.`,
        );
      }
    },
  };
}

/** What was typed; a comma is as good as a point. Null where it is no answer. */
function valueOf(typed: string, { unit, least, most }: Question): number | null {
  const text = typed.trim().toLowerCase();
  if (unit === 'yes or no') return /^y(es)?$/.test(text) ? 1 : /^no?$/.test(text) ? 0 : null;
  const value = text === '' ? NaN : Number(text.replace(',', '.'));
  return value >= least && value <= most ? value : null;
}

/** Lines that are typed, one after the other. */
class Lines {
  private readonly reader = createInterface({ input: process.stdin });
  private readonly typed: string[] = [];
  private waiting: ((line: string | null) => void) | null = null;
  private over = false;

  constructor() {
    this.reader.on('line', (line) => this.take(line));
    this.reader.on('close', () => {
      this.over = true;
      this.waiting?.(null);
    });
  }

  /** @throws Error where nobody types any more, or types q */
  async next(): Promise<string> {
    const line = this.typed.shift() ?? (this.over ? null : await this.wait());
    if (line === null || line.trim().toLowerCase() === 'q')
      throw new Error('ended before the board was proved; nothing was kept in it');
    return line;
  }

  close(): void {
    this.reader.close();
  }

  private take(line: string): void {
    const waiting = this.waiting;
    this.waiting = null;
    if (waiting === null) this.typed.push(line);
    else waiting(line);
  }

  private wait(): Promise<string | null> {
    return new Promise((resolve) => (this.waiting = resolve));
  }
}
