// Reports through the server: the same file as from the command line, one after the other,
// and in words where there is none.
import { execFileSync } from 'node:child_process';
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { importCsv } from '../../../host/capture/exchange/csv.ts';
import { setDetails } from '../../../host/capture/store/edit.ts';
import { reportsInThreads } from '../../../host/commands/reports.ts';
import { problem } from '../../../host/contract/api.ts';
import type { MakeReport } from '../../../host/server/reports.ts';
import { Stage, until, wait } from './stage.ts';

const program = new URL('../../../.build/host/main.js', import.meta.url).pathname;
/** Asleep after ten minutes, woken every half an hour for a minute. */
const NIGHT = [
  'time,current_mA',
  ...Array.from(
    { length: 9000 },
    (_, s) => `${new Date(Date.UTC(2030, 9, 14, 20, 0, s)).toISOString()},${s < 600 ? 900 : s % 1800 < 60 ? 400 : 180}`,
  ),
].join('\n');
let stage: Stage;
beforeEach(async () => {
  stage = new Stage();
  writeFileSync(join(stage.dir, 'before.csv'), NIGHT);
  await importCsv(join(stage.dir, 'before.csv'), join(stage.dir, 'after.nightdraw'), {
    software: 'test',
    created_ms: 1.8e12,
    job: 'order 7',
  });
});
afterEach(() => stage.close());

const sentence = (text: string) => problem.parse(JSON.parse(text)).error.message;

test('the file is that of the command line, byte for byte, under a name that sorts', async () => {
  await stage.serve({ makeReport: reportsInThreads({ workshop_name: 'The bridge' }, []) });
  const out = join(stage.root, 'own.svg');
  execFileSync(process.execPath, [
    program,
    'report',
    join(stage.dir, 'after.nightdraw'),
    '--out',
    out,
    '--paper',
    'letter',
    '--before',
    join(stage.dir, 'before.csv'),
    '--capacity',
    '60',
    '--workshop',
    'The bridge',
  ]);
  const answer = await stage.ask(
    '/api/captures/after.nightdraw/report?format=svg&paper=letter&before=before.csv&capacity_Ah=60',
  );
  expect(answer.status).toBe(200);
  expect(answer.text).toBe(readFileSync(out, 'utf8'));
  expect(answer.headers).toMatchObject({ 'content-type': 'image/svg+xml', 'x-content-type-options': 'nosniff' });
  expect(answer.headers['content-disposition']).toMatch(/^attachment; filename="?\d{4}-\d\d-\d\d-after-report\.svg"?$/);
  for (const [format, begins] of [
    ['pdf', '%PDF-'],
    ['html', '<!doctype html>'],
    ['png', '\ufffdPNG'],
  ] as const) {
    expect(
      (await stage.ask(`/api/captures/after.nightdraw/report?format=${format}`)).text
        .slice(0, begins.length)
        .toLowerCase(),
    ).toBe(begins.toLowerCase());
  }
});

test('plate and customer stand in it only where that is asked for', async () => {
  await stage.serve({ makeReport: reportsInThreads({}, []) });
  setDetails(join(stage.dir, 'after.nightdraw'), { plate: 'PLATE 17', customer: 'somebody' });
  const text = async (more: string) =>
    (await stage.ask(`/api/captures/after.nightdraw/report?format=html${more}`)).text;
  expect(await text('')).not.toContain('PLATE 17');
  expect(await text('&personal=yes')).toContain('PLATE 17');
});

test('what cannot be is said without where the files lie', async () => {
  await stage.serve({ makeReport: reportsInThreads({}, []) });
  writeFileSync(join(stage.dir, 'bad.csv'), 'nothing\n');
  const said = async (name: string, question: string) => {
    const { status, text } = await stage.ask(`/api/captures/${name}/report?${question}`);
    expect(text).not.toContain(stage.root);
    return [status, sentence(text)];
  };
  expect(await said('bad.csv', 'format=pdf')).toEqual([422, expect.stringContaining('bad.csv')]);
  expect(await said('after.nightdraw', 'format=pdf&bay=before.csv')).toEqual([
    422,
    expect.stringContaining('before.csv'),
  ]);
  expect(await said('after.nightdraw', 'format=pdf&before=gone.csv')).toEqual([
    404,
    expect.stringContaining('gone.csv'),
  ]);
  expect(await said('after.nightdraw', 'format=pdf&before=..%2fafter.nightdraw')).toEqual([400, expect.any(String)]);
  expect(await said('after.nightdraw', 'format=docx')).toEqual([400, expect.stringContaining('format')]);
});

test('one is made at a time, a crowd is told to wait, and the end of the server ends it', async () => {
  let running = 0,
    most = 0,
    refused = 0,
    isOpen = false;
  const hold: MakeReport = async (_order, signal) => {
    most = Math.max(most, ++running);
    while (!isOpen && !signal.aborted) await wait(5);
    running--;
    if (signal.aborted) throw new Error('ended');
    return { name: 'x.pdf', bytes: Buffer.from('x') };
  };
  await stage.serve({ makeReport: hold });
  const ask = async () => {
    const { status } = await stage.ask('/api/captures/after.nightdraw/report?format=pdf');
    refused += Number(status === 503);
    return status;
  };
  const crowd = Array.from({ length: 20 }, ask);
  await until(() => refused === 12, 'those beyond eight to be refused');
  isOpen = true;
  expect((await Promise.all(crowd)).filter((status) => status === 200)).toHaveLength(8);
  expect(most).toBe(1);
  isOpen = false;
  const last = ask().catch(() => 0);
  await until(() => running === 1, 'the last report to begin');
  const begin_ms = performance.now();
  await stage.serving.close();
  expect(performance.now() - begin_ms).toBeLessThan(5000);
  await last;
  expect(running).toBe(0);
  await stage.serve();
  expect(sentence((await stage.ask('/api/captures/after.nightdraw/report?format=pdf')).text)).toContain(
    'nightdraw report',
  );
});
