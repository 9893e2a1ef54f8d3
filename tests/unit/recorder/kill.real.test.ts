// kill -9 on a recorder at instants from a seed: what it showed as recorded is there, the
// next one goes on in the same capture, and the charge over each gap is exact.
import { spawn } from 'node:child_process';
import { mkdtempSync, readdirSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { hostClock } from '../../../host/commands/host-clock.ts';
import { seededRandom } from '../../../host/emulator/random.ts';
import { openSerialPort } from '../../../host/link/serial-port.ts';
import { seedOf } from '../../seeds.ts';
import { openTrace } from '../../../host/night/open.ts';
import { realDisk } from '../../../host/recorder/disk.ts';
import { record } from '../../../host/recorder/record.ts';
import { ScriptedBoard } from './scripted-board.ts';

const KILLS = process.env['NIGHTDRAW_SOAK'] === '1' ? 100 : 3;
const SPEED = 10;
const SEED = seedOf(4021);

/**
 * Records until it has acknowledged so often, and some milliseconds more, then kills. Returns up to where it said that
 * all is on the disk.
 */
function recordAndKill(port: string, out: string, words: number, after_ms: number): Promise<number> {
  const program = new URL('./record-process.ts', import.meta.url).pathname;
  const child = spawn(process.execPath, ['--import', 'tsx', program, port, out], { stdio: ['ignore', 'pipe', 'pipe'] });
  let said = '',
    complaints = '';
  child.stderr.on('data', (chunk: Buffer) => (complaints += chunk.toString()));
  child.stdout.on('data', (chunk: Buffer) => {
    const before = said.split('\n').length;
    said += chunk.toString();
    if (before <= words && said.split('\n').length > words) setTimeout(() => child.kill('SIGKILL'), after_ms);
  });
  return new Promise((resolve, reject) => {
    child.on('exit', (_code, signal) => {
      if (signal === 'SIGKILL') resolve(Number(said.slice(0, said.lastIndexOf('\n')).split('\n').at(-1)));
      else reject(new Error(`the recorder ended by itself: ${complaints}`));
    });
  });
}

test(`${KILLS} kills of a recorder`, async () => {
  const folder = mkdtempSync(join(tmpdir(), 'nightdraw-kill-'));
  const [port, out] = [join(folder, 'port'), join(folder, 'night')];
  const board = new ScriptedBoard({ link: port, speed: SPEED, current_uA: (window) => 20_000 + (window % 1000) * 10 });
  const random = seededRandom(SEED);
  try {
    let shown_s = 0;
    for (let kill = 0; kill < KILLS; kill++) {
      const [words, after_ms] = [1 + Math.floor(random() * 3), Math.floor(random() * 500)];
      shown_s = await recordAndKill(port, out, words, after_ms);
      const { info } = await openTrace(out);
      expect(info!.state).toBe('recording');
      // The axis is the board's own at this speed, so that both are the same seconds.
      expect(info!.duration_s, `seed ${SEED}, kill ${kill}: ${after_ms} ms after word ${words}`).toBeGreaterThanOrEqual(
        shown_s - 1e-6,
      );
    }
    const summary = await record({
      port,
      out,
      for_s: shown_s + 30,
      job: null,
      software: 'test',
      origin: null,
      signal: new AbortController().signal,
      clock: hostClock,
      openPort: openSerialPort,
      low_V: null,
      disk: realDisk,
      listPorts: () => Promise.resolve([]),
      onProgress: () => undefined,
      onNote: () => undefined,
    });
    expect(summary.resumedAt_s).toBeGreaterThan(0);
    const { trace, info } = await openTrace(out);
    expect([info!.state, info!.runs.length, trace.gaps.length]).toEqual(['finished', 1, KILLS]);
    expect(readdirSync(folder).sort()).toEqual(['night', 'port']);

    // Windows and gaps together are what the board measured, window by window.
    const t_s = trace.time.kind === 'listed' ? trace.time.t_s : new Float64Array(0);
    const first = board.sent.find((w) => w.mean_uA / 1000 === trace.mean_mA[0])!.seq;
    const flow_mA = (seq: number) => (20_000 + (seq % 1000) * 10) / 1000;
    trace.mean_mA.forEach((mean, i) => expect(mean).toBe(flow_mA(first + Math.round(t_s[i]! / 0.05))));
    const charge =
      [...trace.mean_mA].reduce((sum, mean, i) => sum + (mean * trace.dur_s![i]!) / 3600, 0) +
      trace.gaps.reduce((sum, gap) => sum + gap.charge_mAh!, 0);
    const count = Math.round(info!.duration_s / 0.05);
    const flowed = Array.from({ length: count }, (_, i) => (flow_mA(first + i) * 0.05) / 3600).reduce(
      (a, b) => a + b,
      0,
    );
    expect(charge / flowed).toBeCloseTo(1, 6);
  } finally {
    board.stop();
    rmSync(folder, { recursive: true });
  }
}, 600_000);
