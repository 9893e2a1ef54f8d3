// Reports through the server: the same file as from the command line, one after the other,
// and in words where there is none.
import { execFileSync } from 'node:child_process';
import { mkdirSync, readdirSync, readFileSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { BayLog } from '../../../host/capture/store/bay-log.ts';
import { importCsv } from '../../../host/capture/exchange/csv.ts';
import { setDetails } from '../../../host/capture/store/edit.ts';
import { reportsInThreads } from '../../../host/commands/reports.ts';
import { captureList, fleetAnswer, jobFolder, nightInfo, problem, repairAnswer } from '../../../host/contract/api.ts';
import type { ReportMaker } from '../../../host/server/reports.ts';
import { workedCar } from '../bay/worked-car.ts';
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

test('to be looked at it is the same page, framed by our own page alone, and may run and fetch nothing', async () => {
  await stage.serve({ makeReport: reportsInThreads({}, []) });
  const report = '/api/captures/after.nightdraw/report?format=html';
  const [kept, shown] = [await stage.ask(report), await stage.ask(`${report}&shown=yes`)];
  expect(shown.text).toBe(kept.text);
  expect(shown.headers['content-disposition']).toBeUndefined();
  expect(shown.headers['content-type']).toBe('text/html; charset=utf-8');
  const policy = String(shown.headers['content-security-policy']);
  expect(policy).toMatch(/default-src 'none'.*frame-ancestors 'self'.*sandbox allow-same-origin allow-modals$/);
  expect(policy).not.toMatch(/script|connect|https?:/);
  expect(shown.headers['x-frame-options']).toBe('SAMEORIGIN');
  for (const format of ['pdf', 'svg', 'png'])
    expect((await stage.ask(`/api/captures/after.nightdraw/report?format=${format}&shown=yes`)).status).toBe(400);
});

describe('the job folder', () => {
  const order = (name = 'after.nightdraw', more = '') =>
    stage.change('POST', `/api/captures/${name}/job-folder${more}`, {});

  test('lies beside the captures and holds what the command writes, byte for byte; again it is replaced', async () => {
    await stage.serve({ makeReport: reportsInThreads({}, []) });
    const own = join(stage.root, 'own');
    execFileSync(process.execPath, [program, 'report', join(stage.dir, 'after.nightdraw'), '--folder', own]);
    for (let times = 0; times < 2; times++) {
      const answer = await order();
      expect(answer.status).toBe(201);
      const { folder, files } = jobFolder.parse(JSON.parse(answer.text));
      expect(folder).toMatch(/^\d{4}-\d\d-\d\d-after-job$/);
      expect(readdirSync(join(stage.dir, folder)).sort()).toEqual([...files].sort());
      expect([...files].sort()).toEqual(readdirSync(own).sort());
      for (const file of files)
        expect(readFileSync(join(stage.dir, folder, file)).equals(readFileSync(join(own, file))), file).toBe(true);
    }
    // What lies in a folder is no second capture.
    expect((await stage.ask('/api/captures')).text).not.toContain('-job');
  });

  test('leads nowhere else, and is told of without where the files lie', async () => {
    await stage.serve({ makeReport: reportsInThreads({}, []) });
    const elsewhere = join(stage.root, 'elsewhere');
    mkdirSync(elsewhere);
    const { folder } = jobFolder.parse(JSON.parse((await order()).text));
    rmSync(join(stage.dir, folder), { recursive: true });
    symlinkSync(elsewhere, join(stage.dir, folder));
    const answer = await order();
    expect(answer.status).toBe(422);
    expect(sentence(answer.text)).toBe(`${folder} is there already and is no folder; move it away first.`);
    expect(readdirSync(elsewhere)).toEqual([]);
    expect((await order('..%2fafter.nightdraw')).status).toBe(400);
    // A page of another site, and a form that sends itself, come no further than anywhere else.
    const path = '/api/captures/after.nightdraw/job-folder';
    expect((await stage.ask(path, { method: 'POST', body: '{}' })).status).toBe(403);
    expect((await stage.change('POST', path, {}, { origin: 'http://elsewhere.example' })).status).toBe(403);
    const readOnly = await order('after.nightdraw', '?paper=a5');
    expect([readOnly.status, sentence(readOnly.text)]).toEqual([400, expect.stringContaining('paper')]);
    expect(answer.text + readOnly.text).not.toContain(stage.root);
  });
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
  const hold: ReportMaker['report'] = async (_order, signal) => {
    most = Math.max(most, ++running);
    while (!isOpen && !signal.aborted) await wait(5);
    running--;
    if (signal.aborted) throw new Error('ended');
    return { name: 'x.pdf', bytes: Buffer.from('x') };
  };
  await stage.serve({ makeReport: { report: hold, folder: () => Promise.reject(new Error('none')) } });
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

test('two nights are told proven or not by the sentence of the report, judged by what is asked', async () => {
  await stage.serve({ makeReport: reportsInThreads({}, []) });
  const quiet = NIGHT.replaceAll(',400', ',20').replaceAll(',180', ',20').replaceAll('2030-10-1', '2030-11-1');
  writeFileSync(join(stage.dir, 'quiet.csv'), quiet);
  const told = async (after: string, more = '') => {
    const { text } = await stage.ask(`/api/captures/${after}/repair?before=before.csv${more}`);
    const page = await stage.ask(`/api/captures/${after}/report?format=html&before=before.csv${more}`);
    const { code, sentence: words } = repairAnswer.parse(JSON.parse(text));
    expect(page.text.replace(/[\s\u00a0]+/g, ' ')).toContain(words);
    return code;
  };
  expect(await told('quiet.csv')).toBe('proven');
  expect(await told('quiet.csv', '&allowance_mA=10')).toBe('not proven');
  expect(await told('after.nightdraw')).toBe('not proven');
  const { status, text } = await stage.ask('/api/captures/quiet.csv/repair?before=gone.csv');
  expect([status, sentence(text)]).toEqual([404, expect.stringContaining('gone.csv') as string]);
});

test('a capture says what came of the work in the bay that it keeps, or why it cannot be read', async () => {
  const path = join(stage.dir, 'after.nightdraw');
  const { entries, state } = workedCar();
  const log = new BayLog(path);
  log.append(entries, state);
  log.close();
  await stage.serve();
  const bay = async () => nightInfo.parse(JSON.parse((await stage.ask('/api/captures/after.nightdraw')).text));
  expect((await bay()).bay).toMatchObject({
    alone: true,
    parts: [{ code: 'proven', name: 'amplifier', way: expect.stringContaining('F2') as string }],
  });
  expect(nightInfo.parse(JSON.parse((await stage.ask('/api/captures/before.csv')).text)).bay).toBe(null);
  // It is no night of a car, and the list says what it is.
  const list = async () => captureList.parse(JSON.parse((await stage.ask('/api/captures')).text)).captures;
  await until(async () => (await list()).every(({ state }) => state === 'ready'), 'the captures read');
  const work = (await list()).flatMap((one) => (one.state === 'ready' && one.work ? [one.name] : []));
  expect(work).toEqual(['after.nightdraw']);
  const { cars, unread } = fleetAnswer.parse(JSON.parse((await stage.ask('/api/fleet')).text));
  expect([cars.flatMap(({ nights }) => nights.map(({ name }) => name)), unread]).toEqual([['before.csv'], 0]);
  const worse = new BayLog(path);
  worse.append([], '{"version":999}');
  worse.close();
  const left = await bay();
  expect(left.bay).toBe(null);
  expect(left.origin.at(-1)).toMatchObject({ label: 'work in the bay' });
});
