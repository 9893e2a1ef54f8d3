// `record`: a board into a capture, until the time is up or Ctrl-C.

import { realDisk } from '../recorder/disk.ts';
import { record } from '../recorder/record.ts';
import type { Progress } from '../recorder/record.ts';
import { optionalDuration, requiredText } from './command.ts';
import type { Command } from './command.ts';
import { stopSignal } from './stop.ts';

declare const NIGHTDRAW_VERSION: string;

export const command: Command = {
  summary: 'records a board into a capture',
  help: `nightdraw record --port PATH --out FILE [--for 10h] [--job TEXT]

Records until the time is up or Ctrl-C. What is shown as recorded is on disk.
An unfinished FILE of the same board is resumed; any other is refused.

  --port PATH   the board's serial port, such as /dev/ttyUSB0
  --out FILE    the capture
  --for TIME    length of the recording in the car's time: 10h, 45m, 90s, 1h30m
  --job TEXT    what the capture is about`,
  options: { port: { type: 'string' }, out: { type: 'string' }, for: { type: 'string' }, job: { type: 'string' } },
  positionals: 0,
  async run(values) {
    const port = requiredText(values, 'port', '/dev/ttyUSB0');
    const out = requiredText(values, 'out', 'captures/monday.nightdraw');
    const for_s = optionalDuration(values, 'for') ?? null;
    const job = typeof values['job'] === 'string' ? values['job'] : null;
    const screen = new ProgressLine(process.stderr.isTTY);
    const summary = await record({
      port,
      out,
      for_s,
      job,
      origin: null,
      software: NIGHTDRAW_VERSION,
      clock: { mono_us: () => Number(process.hrtime.bigint() / 1000n), wall_ms: () => Date.now() },
      disk: realDisk,
      signal: stopSignal(),
      onProgress: (progress) => screen.show(inWords(progress)),
      onNote: (text) => screen.note(text),
    }).finally(() => screen.end());
    const resumed = summary.resumed ? ', resumed' : '';
    console.log(
      `${out}: ${hms(summary.recorded_s)} recorded${resumed}, ${summary.windows} windows, ` +
        `${summary.lostLines} lines lost, ${summary.badLines} damaged`,
    );
    return 0;
  },
};

function inWords(p: Progress): string {
  const current = p.current_mA === null ? '' : `, ${p.current_mA.toFixed(1)} mA`;
  const voltage = p.voltage_V === null ? '' : `, ${p.voltage_V.toFixed(2)} V`;
  const trouble = p.lostLines + p.badLines === 0 ? '' : `, ${p.lostLines} lines lost, ${p.badLines} damaged`;
  return `recorded ${hms(p.recorded_s)}, up to ${new Date(p.recordedTo_ms).toLocaleTimeString('en-GB')}${current}${voltage}${trouble}`;
}

function hms(seconds: number): string {
  const whole = Math.floor(seconds);
  const two = (n: number) => String(n).padStart(2, '0');
  return `${Math.floor(whole / 3600)}:${two(Math.floor(whole / 60) % 60)}:${two(whole % 60)}`;
}

/** One line that is written over on a terminal; notes alone where stderr is a file. */
class ProgressLine {
  private shown = false;

  constructor(private readonly terminal: boolean) {}

  show(text: string): void {
    if (!this.terminal) return;
    process.stderr.write(`\r\u001b[K${text}`);
    this.shown = true;
  }

  note(text: string): void {
    process.stderr.write(`${this.shown ? '\r\u001b[K' : ''}${text}\n`);
    this.shown = false;
  }

  end(): void {
    if (this.shown) process.stderr.write('\n');
    this.shown = false;
  }
}
