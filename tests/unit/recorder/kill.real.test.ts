// kill -9 on a recorder at random instants: what it showed as recorded is there, the
// next one goes on in the same capture, and the charge over each gap is exact.
import { spawn } from 'node:child_process';
import { mkdtempSync, readdirSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { openTrace } from '../../../host/capture/open.ts';
import { realDisk } from '../../../host/recorder/disk.ts';
import { record } from '../../../host/recorder/record.ts';
import { ScriptedBoard } from './scripted-board.ts';

const KILLS = process.env['NIGHTDRAW_SOAK'] === '1' ? 100 : 3;
const SPEED = 10;

/** Records until some time after the first word, then kills. Returns up to where it said that all is on the disk. */
function recordAndKill(port: string, out: string, after_ms: number): Promise<number> {
  const program = new URL('./record-process.ts', import.meta.url).pathname;
  const child = spawn(process.execPath, ['--import', 'tsx', program, port, out], { stdio: ['ignore', 'pipe', 'pipe'] });
  let said = '', complaints = '';
  child.stderr.on('data', (chunk: Buffer) => (complaints += chunk.toString()));
  child.stdout.on('data', (chunk: Buffer) => {
    if (said === '') setTimeout(() => child.kill('SIGKILL'), after_ms);
    said += chunk.toString();
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
  try {
    let shown_s = 0;
    for (let kill = 0; kill < KILLS; kill++) {
      const after_ms = 300 + Math.random() * 900;
      shown_s = await recordAndKill(port, out, after_ms);
      const { info } = await openTrace(out);
      expect(info!.state).toBe('recording');
      // The axis is the board's own at this speed, so that both are the same seconds.
      expect(info!.duration_s, `kill ${kill} after ${after_ms} ms`).toBeGreaterThanOrEqual(shown_s - 1e-6);
    }
    const summary = await record({
      port, out, for_s: shown_s + 30, job: null, software: 'test', origin: null, signal: new AbortController().signal,
      clock: { mono_us: () => performance.now() * 1000, wall_ms: Date.now, up_s: () => performance.now() / 1000 }, low_V: null, disk: realDisk, listPorts: () => Promise.resolve([]), onProgress: () => undefined, onNote: () => undefined,
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
    const charge = [...trace.mean_mA].reduce((sum, mean, i) => sum + (mean * trace.dur_s![i]!) / 3600, 0) + trace.gaps.reduce((sum, gap) => sum + gap.charge_mAh!, 0);
    const count = Math.round(info!.duration_s / 0.05);
    const flowed = Array.from({ length: count }, (_, i) => (flow_mA(first + i) * 0.05) / 3600).reduce((a, b) => a + b, 0);
    expect(charge / flowed).toBeCloseTo(1, 6);
  } finally {
    board.stop();
    rmSync(folder, { recursive: true });
  }
}, 600_000);
