// Whether a capture holds every window that a board sent, from its first one on.
import { join } from 'node:path';
import { expect } from 'vitest';
import { openCapture } from '../../../host/capture/read/reader.ts';
import type { Stage } from './stage.ts';

/** What the capture holds, against what the board sent from the first of them on. */
export function expectWhole(stage: Stage, name: string, board: Stage['boards'][number], least: number): void {
  const capture = openCapture(join(stage.dir, name));
  const got = capture
    .readings()
    .flatMap(({ windows }) => Array.from(windows.seq, (seq, i) => `${seq} ${windows.mean_uA[i]}`));
  capture.close();
  const sent = board.sent.map(({ seq, mean_uA }) => `${seq} ${mean_uA}`);
  const first = sent.indexOf(got[0]!);
  expect(got.length).toBeGreaterThan(least);
  expect(got).toEqual(sent.slice(first, first + got.length));
}
