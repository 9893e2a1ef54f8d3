// `forget` takes out what was noted by hand in the bay, which may name people, and leaves what
// was measured and found there.
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { bayResults } from '../../../host/bay/work/results.ts';
import { forgetPrivate } from '../../../host/capture/store/amend.ts';
import { BayLog, readBay } from '../../../host/capture/store/bay-log.ts';
import { writeBaseCapture } from '../strangers/base-capture.ts';
import { HeldWork } from './held-work.ts';

const TREE = readFileSync(new URL('../../../host/bay/examples/demo-tree.csv', import.meta.url), 'utf8');
const WHO = 'the owner next door',
  WHAT = 'heard it click at night';

let folder: string;
beforeEach(() => (folder = mkdtempSync(join(tmpdir(), 'nightdraw-forget-'))));
afterEach(() => rmSync(folder, { recursive: true }));

test('evidence goes with its source, out of every byte; tests and results stay', () => {
  const path = join(folder, 'bay.nightdraw');
  writeBaseCapture(path);
  const work = HeldWork.start(TREE);
  work.act({ do: 'ready' }, 0);
  work.act({ do: 'drop', name: 'E7', drop_mV: 1.7 }, 0);
  work.act({ do: 'evidence', name: 'mirror left', kind: 'other', text: WHAT, source: WHO }, 0);
  const log = new BayLog(path);
  log.append(work.newEntries(), work.toJSON());
  log.close();
  const before = bayResults(readBay(path)!);
  expect(before.evidence[0]).toMatchObject({ text: WHAT, source: WHO });
  expect(forgetPrivate(path)).toContain('bay');
  const bytes = readFileSync(path).toString('latin1');
  for (const words of [WHO, WHAT]) expect(bytes).not.toContain(words);
  const after = bayResults(readBay(path)!);
  expect(after.evidence[0]).toMatchObject({ text: '', source: '', name: 'mirror left' });
  expect(after.tests).toEqual(before.tests);
  expect(after.tests.length).toBeGreaterThan(0);
  expect(forgetPrivate(path)).not.toContain('bay');
});
