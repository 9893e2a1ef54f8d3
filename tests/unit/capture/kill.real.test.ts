// kill -9 at instants from a seed: no acknowledged reading is lost, none is invented or
// doubled, and the next writer goes on. The long form runs in the soak.
import { spawn } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { openCapture } from '../../../host/capture/read/reader.ts';
import type { Hello } from '../../../host/contract/capture.ts';
import { CaptureWriter, createCapture, MERGED } from '../../../host/capture/store/writer.ts';
import { seededRandom } from '../../../host/emulator/random.ts';
import { seedOf } from '../../seeds.ts';
import { numbered } from './kill-writer.ts';

const hello: Hello = {
  kind: 'hello',
  proto: 1,
  fw: '0.1.0',
  mcu: 'native',
  sensor: 'ina228',
  id: 7,
  boot: 3,
  cause: 'power',
  shunt_nOhm: 5_000_000,
  gain_ppm: 0,
  offset_nV: 0,
  window_us: 50_000,
  stream: 'windows',
  speed: 1,
};

const SEED = seedOf(77);
const KILLS = process.env['NIGHTDRAW_SOAK'] === '1' ? 100 : 6;

/** Lets a writer acknowledge so often, kills it, and returns how many it acknowledged. */
function writeAndKill(path: string, words: number): Promise<number> {
  const program = new URL('./kill-writer.ts', import.meta.url).pathname;
  const child = spawn(process.execPath, ['--import', 'tsx', program, 'write', path], {
    stdio: ['ignore', 'pipe', 'inherit'],
  });
  let said = '';
  child.stdout.on('data', (chunk: Buffer) => {
    said += chunk.toString();
    if (said.split('\n').length > words) child.kill('SIGKILL');
  });
  return new Promise((resolve, reject) => {
    child.on('exit', (_code, signal) => {
      // The last whole line: the one under way when it died may be cut.
      const lines = said.slice(0, said.lastIndexOf('\n')).split('\n');
      if (signal === 'SIGKILL') resolve(Number(lines.at(-1)));
      else reject(new Error(`the writer ended by itself after: ${said.slice(-200)}`));
    });
  });
}

test(`${KILLS} kills`, async () => {
  const random = seededRandom(SEED);
  const folder = mkdtempSync(join(tmpdir(), 'nightdraw-kill-'));
  try {
    const path = join(folder, 'night');
    createCapture(path, { kind: 'recorded', software: 'test', created_ms: 0, axis_ms: 0, job: null, origin: null });
    const first = new CaptureWriter(path);
    const run = first.beginRun({ reason: 'start', hello, began_ms: 0 });
    // Close to the first merge, so that some of the kills meet one on a slow disk too.
    let before = MERGED - 200;
    first.commit({ run, readings: Array.from({ length: before }, (_, seq) => numbered(seq)) });
    first.close();
    for (let kill = 0; kill < KILLS; kill++) {
      const words = 3 + Math.floor(random() * 40);
      const acknowledged = await writeAndKill(path, words);
      const capture = openCapture(path);
      const { trace, info } = { trace: capture.trace(), info: capture.info() };
      capture.close();
      const label = `seed ${SEED}, kill ${kill} after word ${words}`;
      expect(trace.mean_mA.length, label).toBeGreaterThanOrEqual(acknowledged);
      // At most the one transaction that was committed but not yet acknowledged.
      expect(trace.mean_mA.length, label).toBeLessThanOrEqual(acknowledged + 23);
      expect(acknowledged, label).toBeGreaterThan(before);
      expect([trace.gaps.length, info.state], label).toEqual([0, 'recording']);
      for (let i = 0; i < trace.mean_mA.length; i++) {
        const { mean_uA, min_uA, max_uA } = numbered(i);
        if (
          trace.mean_mA[i] !== mean_uA / 1000 ||
          trace.min_mA![i] !== min_uA / 1000 ||
          trace.max_mA![i] !== max_uA / 1000
        )
          throw new Error(`${label}: sample ${i}`);
      }
      before = trace.mean_mA.length;
    }
    expect(before).toBeGreaterThan(MERGED);
  } finally {
    rmSync(folder, { recursive: true });
  }
});
