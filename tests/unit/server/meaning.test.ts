// The server carries what a night means, judged by the workshop's settings, in a shape
// that its own schema knows.

import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { hostClock } from '../../../host/commands/host-clock.ts';
import { findingsAnswer } from '../../../host/contract/api.ts';
import { serve } from '../../../host/server/serve.ts';
import type { Serving } from '../../../host/server/serve.ts';

let dir: string;
let serving: Serving;
const logged: string[] = [];

beforeAll(async () => {
  dir = mkdtempSync(join(tmpdir(), 'nightdraw-meaning-'));
  writeFileSync(join(dir, 'index.html'), '<!doctype html><title>page</title>');
  const rows = Array.from({ length: 1500 }, (_, i) => `${i * 10},${i < 60 ? 400 : i > 600 && i < 606 ? 900 : 20},12.1`);
  writeFileSync(join(dir, 'night.csv'), `t_s,current_mA,voltage_V\n${rows.join('\n')}\n`);
  serving = await serve({
    checksAnswers: true,
    clock: hostClock,
    dir,
    pageDir: dir,
    port: 0,
    workshop: { allowance_mA: 15, allowance_source: 'workshop rule', capacity_Ah: 60 },
    log: (line) => logged.push(line),
  });
});
afterAll(async () => {
  await serving.close();
  rmSync(dir, { recursive: true, force: true });
});

test('bill, battery, explanations, warnings and the next step come with the findings', async () => {
  const answer: unknown = await (await fetch(`${serving.url}api/captures/night.csv/findings`)).json();
  const night = findingsAnswer.strict().parse(answer);
  expect(night).toMatchObject({
    verdict: { code: 'over' },
    allowance: { mA: 15, basis: 'maker', source: 'workshop rule' },
    complaint: null,
    battery: { capacity_Ah: { low: 48, high: 60 } },
  });
  expect(night.warnings!.map((w) => w.code)).toEqual(['battery-low']);
  expect(night.explanations!).toHaveLength(1);
  expect(night.bill!.lines.map((l) => l.what)).toEqual(['going-to-sleep', 'asleep-within', 'asleep-beyond', 'single']);
  expect(night.next!.length).toBeGreaterThan(20);
  expect(logged).toEqual([]);
});
