// `nightdraw prove` as it is used: the program as built, its words read and answered line by line, the shipped
// image behind a pseudo-terminal, and a bench whose loads are put on as the words say. Then a recording: the
// certificate is in the capture, in what is told of it, and its name goes with `forget`.
import { execFile, spawn } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';
import { expect, test } from 'vitest';
import { startEmulatedBoard } from '../../../host/emulator/emulated-port.ts';
import { hostClock } from '../../../host/commands/host-clock.ts';
import { askPort } from '../../../host/link/find.ts';
import { openSerialPort } from '../../../host/link/serial-port.ts';
import { checkedWords } from '../../../host/say/certificate.ts';
import { STEPS } from '../../../host/prove/readings.ts';
import { QUESTIONS, STEP_WORDS } from '../../../host/prove/steps.ts';
import { carOf, IMAGE } from '../board-run.ts';
import { Bench } from './bench.ts';
import type { Load } from './bench.ts';
import { BUILD_FAULTS, SOUND } from './build-faults.ts';
import type { Build } from './build-faults.ts';
import { soundSpecimen } from './specimens.ts';

const PROGRAM = new URL('../../../.build/host/main.js', import.meta.url).pathname;
const LOADS: Record<string, Load> = {
  rest: 'none',
  series: 'series',
  one: 'one',
  both: 'both',
  moved: 'one',
  clock: 'none',
};

/** Runs `work` at the port of such a board on a bench. */
async function atBench(build: Build, work: (link: string, bench: Bench, folder: string) => Promise<void>) {
  const folder = mkdtempSync(join(tmpdir(), 'nightdraw-prove-'));
  const link = join(folder, 'board');
  const specimen = soundSpecimen(5);
  const bench = new Bench(build, specimen);
  const { pins, wiring, errors } = bench.options;
  const board = startEmulatedBoard({
    image: IMAGE,
    scenario: { name: 'bench', summary: '', length_s: 600, seed: 5, car: carOf([]) },
    // Of a speed that is told to be its computer's: a busy computer's clock is not judged.
    speed: 2,
    link,
    ...(pins && { pins }),
    ...(wiring && { wiring }),
    ...(errors && { errors }),
    log: () => undefined,
    now_ms: () => performance.now(),
  });
  try {
    await work(link, bench, folder);
  } finally {
    board.close();
    rmSync(folder, { recursive: true });
  }
}

const joined = (text: string) => text.replace(/\s+/g, ' ');

/** Answers each sentence as the bench lets it be answered. */
function prove(link: string, bench: Bench, ...more: string[]): Promise<{ code: number; said: string }> {
  const meter: Partial<Record<keyof typeof QUESTIONS, () => number>> = {
    clamps_V: () => bench.clamps_V(),
    series_A: () => bench.ampere(),
    shunt_mV: () => bench.shunt_mV(),
    voltageLead_mV: () => bench.voltageLead_mV(),
  };
  return new Promise((resolve) => {
    const child = spawn(process.execPath, [PROGRAM, 'prove', '--port', link, ...more]);
    let said = '';
    let answered = 0;
    child.stderr.on('data', (chunk: Buffer) => (said += chunk.toString()));
    child.stdout.on('data', (chunk: Buffer) => {
      said += chunk.toString();
      const open = joined(said.slice(answered));
      const step = STEPS.find((name) => open.includes(`${joined(STEP_WORDS[name].sentence)} Then Enter.`));
      const question = Object.entries(QUESTIONS).find(([, { sentence, unit }]) =>
        open.includes(`${joined(sentence)} (${unit})`),
      );
      if (step !== undefined) {
        bench.connect(LOADS[step]!);
        child.stdin.write('\n');
      } else if (question !== undefined) {
        const read = meter[question[0] as keyof typeof QUESTIONS];
        // A comma, as it is written where many of the users live.
        child.stdin.write(read === undefined ? 'q\n' : `${read().toFixed(2).replace('.', ',')}\n`);
      } else return;
      answered = said.length;
    });
    child.on('close', (code) => resolve({ code: code!, said }));
  });
}

/** The board runs in this process, which must not wait standing still. */
const nightdraw = async (...words: string[]) =>
  (await promisify(execFile)(process.execPath, [PROGRAM, ...words])).stdout;

test(
  'a sound board: led through, its certificate kept in it, in a capture and in what is told',
  () =>
    atBench(SOUND, async (link, bench, folder) => {
      const { code, said } = await prove(link, bench, '--by', 'Night shift');
      expect([code, joined(said)]).toEqual([0, expect.stringContaining('The board is sound: checked on 20')]);
      expect(joined(said)).toMatch(
        /by Night shift, within \d\.\d % of the meter and 0\.\d\d mA at rest\. It keeps that/,
      );
      const checked = /checked on [\d-]+, by Night shift, within \d\.\d % of the meter and [\d.]+ mA at rest/.exec(
        joined(said),
      )![0];

      const atPort = await askPort(
        { path: link, about: null },
        { time: hostClock, openPort: openSerialPort },
        new AbortController().signal,
      );
      expect(checkedWords(atPort.certificate!, atPort.hello!.cal_gen)).toBe(checked);

      const capture = join(folder, 'night.nightdraw');
      await nightdraw('record', '--port', link, '--out', capture, '--for', '3s');
      expect(joined(await nightdraw('about', capture))).toContain(`Board is ${checked}`);
      expect(joined(await nightdraw('analyse', capture))).toContain(`Board: ${checked}.`);
      const { certificate } = JSON.parse(await nightdraw('analyse', '--json', capture)) as { certificate: object };
      expect(Object.keys(certificate).sort()).toEqual(['cal_gen', 'checked_ms', 'share_ppm', 'zero_uA']);
      const page = join(folder, 'night.html');
      await nightdraw('report', capture, '--out', page);
      expect(joined(readFileSync(page, 'utf8'))).toContain('by Night shift');

      expect(await nightdraw('forget', capture)).toContain('checked_by');
      expect(readFileSync(capture).includes('Night shift')).toBe(false);
      expect(joined(await nightdraw('about', capture))).toContain('Board is checked on 20');
    }),
  300_000,
);

test(
  'a board with its sense leads swapped: named after the first load, exit code 1, nothing kept',
  () =>
    atBench(
      BUILD_FAULTS.find(({ is }) => is === 'sense-swapped')!,
      async (link, bench) => {
        const { code, said } = await prove(link, bench);
        expect(code).toBe(1);
        expect(joined(said)).toContain('Not sound. A current that discharges the battery reads negative');
        expect(joined(said)).toContain('Change the two thin leads over');
        expect(joined(said)).not.toContain(STEP_WORDS.one.sentence);
      },
    ),
  120_000,
);

test(
  'ended with q, and a port that is not there with 5 V on the board',
  () =>
    atBench(SOUND, async (link, bench) => {
      const child = spawn(process.execPath, [PROGRAM, 'prove', '--port', link]);
      let said = '';
      child.stderr.on('data', (chunk: Buffer) => (said += chunk.toString()));
      child.stdin.end('q\n');
      expect(await new Promise((resolve) => child.on('close', resolve))).toBe(1);
      expect(said).toBe('nightdraw: ended before the board was proved; nothing was kept in it\n');
      const { code, said: silent } = await prove(`${link}-none`, bench);
      expect([code, joined(silent)]).toEqual([1, expect.stringContaining(joined(QUESTIONS.supply_V.sentence))]);
    }),
  120_000,
);
