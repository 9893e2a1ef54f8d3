// The list of boards at this computer: what each is told to be.
import { expect, test } from 'vitest';
import { Boards } from '../../../host/server/live/boards.ts';
import type { FoundBoard, Workbench } from '../../../host/server/live/workbench.ts';
import { HELLO } from './sim-bench.ts';

const FOUND: FoundBoard = { port: '/dev/ttyA', about: null, hello: HELLO, certificate: null, trouble: null };
const CERTIFICATE = { checked_ms: 1_764_460_800_000, by: 'A. Wörner', share_ppm: 8000, zero_uA: 110, cal_gen: 0 };

async function listed(...found: FoundBoard[]) {
  const bench: Workbench = {
    find: () => Promise.resolve(found),
    record: () => Promise.reject(new Error('not asked here')),
    prove: () => Promise.reject(new Error('not asked here')),
    free_bytes: () => null,
  };
  const boards = new Boards(
    bench,
    () => null,
    () => undefined,
    () => 0,
  );
  await boards.search();
  return boards.list().boards;
}

test('a board tells when it was proved; one that was not, and a port without one, tell nothing', async () => {
  const proved = { ...FOUND, port: '/dev/ttyB', certificate: CERTIFICATE };
  const silent = { ...FOUND, port: '/dev/ttyC', hello: null, trouble: 'nothing answers' };
  expect((await listed(FOUND, proved, silent)).map(({ port, checked }) => [port, checked])).toEqual([
    ['/dev/ttyA', null],
    ['/dev/ttyB', 'checked on 2025-11-30, by A. Wörner, within 0.8 % of the meter and 0.11 mA at rest'],
    ['/dev/ttyC', null],
  ]);
});
