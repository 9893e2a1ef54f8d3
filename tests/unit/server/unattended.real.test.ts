// Recording unasked with boards' lines through real ports.
import { utimesSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, expect, test } from 'vitest';
import { recordingList } from '../../../host/contract/api.ts';
import { openCapture } from '../../../host/capture/read/reader.ts';
import type { CaptureInfo } from '../../../host/contract/capture.ts';
import { Stage, until, wait } from './stage.ts';

let stage: Stage | null = null;
afterEach(async () => {
  await stage?.close();
  stage = null;
});

const running = async () =>
  recordingList
    .parse(JSON.parse((await stage!.ask('/api/recordings')).text))
    .recordings.filter(({ state }) => state === 'recording');

function infoOf(path: string): CaptureInfo {
  const capture = openCapture(path);
  try {
    return capture.info();
  } finally {
    capture.close();
  }
}

async function soon<T>(ask: () => Promise<T[]>, what: string): Promise<T> {
  for (let i = 0; i < 300; i++) {
    const [found] = await ask();
    if (found !== undefined) return found;
    await wait(100);
  }
  throw new Error(`waited 30 s for: ${what}`);
}

test('through real ports: begun unasked, gone on with hours later by another server, whole', async () => {
  stage = new Stage();
  const port = stage.plug({ id: 10 });
  const there: string[] = [];
  const unattended = { ports: () => Promise.resolve(there), known: () => ['0000000A'] };
  await stage.serve({ unattended });
  await wait(100);
  expect(await running()).toEqual([]);
  there.push(port);
  const first = await soon(running, 'the board to be recorded');
  await until(() => stage!.boards[0]!.sent.length > 60, 'readings');
  await stage.serving.close();

  const path = join(stage.dir, first.name);
  const before_s = infoOf(path).duration_s;
  const hoursAgo = new Date(Date.now() - 3 * 3_600_000);
  for (const file of [path, `${path}-wal`]) {
    try {
      utimesSync(file, hoursAgo, hoursAgo);
    } catch {
      // Closed cleanly, it left no log.
    }
  }
  await stage.serve({ unattended });
  const again = await soon(running, 'the capture to be gone on with');
  expect(again.name).toBe(first.name);
  await until(() => infoOf(path).duration_s > before_s + 1, 'more of the night');
  expect((await stage.change('POST', `/api/recordings/${first.name}/stop`, {})).status).toBe(200);
  const info = infoOf(path);
  expect([info.state, info.runs.length]).toEqual(['finished', 1]);
  expect(info.duration_s).toBeGreaterThan(before_s + 1);
  // Ended by somebody, it is not begun again while the board stays plugged in.
  await wait(4500);
  expect(await running()).toEqual([]);
}, 120_000);
