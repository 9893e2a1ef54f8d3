// The certificate of a board in its captures: kept, passed on without the name, taken in again, and the name
// gone from every byte once it is forgotten.
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, expect, test } from 'vitest';
import { captureAsJson, captureFromJson } from '../../../host/capture/exchange/export-json.ts';
import { openCapture } from '../../../host/capture/read/reader.ts';
import { forgetPrivate } from '../../../host/capture/store/amend.ts';
import { CaptureWriter, createCapture } from '../../../host/capture/store/writer.ts';
import type { Certificate } from '../../../host/contract/capture.ts';

const folder = mkdtempSync(join(tmpdir(), 'nightdraw-certificate-'));
afterAll(() => rmSync(folder, { recursive: true }));
let files = 0;
const fresh = () => join(folder, `file${files++}`);

const CERTIFICATE: Certificate = {
  checked_ms: Date.UTC(2026, 10, 30, 9),
  by: 'Night shift',
  share_ppm: 8200,
  zero_uA: 110,
  cal_gen: 3,
};

function recorded(certificate: Certificate | null): string {
  const path = fresh();
  const about = { kind: 'recorded', software: 'test', created_ms: 5, axis_ms: 1e12, job: null, origin: null } as const;
  createCapture(path, { ...about, certificate });
  const writer = new CaptureWriter(path);
  writer.finish();
  writer.close();
  return path;
}

function certificateIn(path: string): Certificate | null | undefined {
  const capture = openCapture(path);
  const { certificate } = capture.info();
  capture.close();
  return certificate;
}

test('kept in a capture, null where the board has none', () => {
  expect(certificateIn(recorded(CERTIFICATE))).toEqual(CERTIFICATE);
  expect(certificateIn(recorded({ ...CERTIFICATE, by: '' }))).toEqual({ ...CERTIFICATE, by: '' });
  expect(certificateIn(recorded(null))).toBeNull();
});

test('passed on with and without the name, and taken in again', async () => {
  const path = recorded(CERTIFICATE);
  for (const [withPersonal, by] of [
    [false, ''],
    [true, 'Night shift'],
  ] as const) {
    const text = captureAsJson(path, withPersonal);
    expect(text.includes('Night shift')).toBe(withPersonal);
    const back = fresh();
    await captureFromJson(text, 'x.json', back);
    expect(certificateIn(back)).toEqual({ ...CERTIFICATE, by });
  }
});

test('forgotten: the name is in no byte, the rest stays', () => {
  const path = recorded(CERTIFICATE);
  expect(readFileSync(path).includes('Night shift')).toBe(true);
  expect(forgetPrivate(path)).toEqual(['checked_by']);
  expect(readFileSync(path).includes('Night shift')).toBe(false);
  expect(certificateIn(path)).toEqual({ ...CERTIFICATE, by: '' });
});
