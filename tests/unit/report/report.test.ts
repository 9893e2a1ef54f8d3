// The report's files, checked by other programs: poppler's reader for the PDF, a renderer
// for the SVG; and with hostile text wherever somebody types something.

import { Resvg } from '@resvg/resvg-js';
import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import { interpret, optionsFrom } from '../../../host/analysis/meaning/interpret.ts';
import { openTrace } from '../../../host/night/open.ts';
import type { ReportSource } from '../../../host/report/source.ts';
import { printable } from '../../../host/report/printable.ts';
import { makeReport } from '../../../host/report/report.ts';
import type { Format, Paper } from '../../../host/report/report.ts';
import { overviewOf } from '../../../host/night/overview.ts';

const dir = mkdtempSync(join(tmpdir(), 'nightdraw-report-'));
afterAll(() => rmSync(dir, { recursive: true, force: true }));

const capture = new URL('../../../captures/wakes-often.nightdraw', import.meta.url).pathname;
const { trace, voltage, info } = await openTrace(capture);
const night = interpret({ trace, voltage, fullScale_mA: null }, optionsFrom({ dead_after_days: 6 }));
const whole = overviewOf(trace)(0, night.trace.duration_s, 700);
const SOURCE: ReportSource = {
  night,
  info,
  personal: {},
  workshop: 'Workshop at the bridge',
  logo: null,
  fileName: 'wakes-often.nightdraw',
  bay: null,
  before: null,
};
const make = (format: Format, source = SOURCE, paper: Paper = 'a4') => makeReport(source, whole, [], format, paper);

function pdfText(bytes: Buffer): { text: string; pages: number; size: string } {
  const path = join(dir, 'report.pdf');
  writeFileSync(path, bytes);
  const about = execFileSync('pdfinfo', [path], { encoding: 'utf8' });
  return {
    text: execFileSync('pdftotext', ['-layout', path, '-'], { encoding: 'utf8' }),
    pages: Number(/Pages:\s+(\d+)/.exec(about)![1]),
    size: /Page size:\s+(.*)/.exec(about)![1]!,
  };
}

const plain = (text: string) => text.replace(/\s+/g, ' ');

describe('the PDF', () => {
  test.each([
    ['a4', '595.28 x 841.89 pts (A4)'],
    ['letter', '612 x 792 pts (letter)'],
  ] as const)('on %s is one page with text that is found', async (paper, size) => {
    const found = pdfText(await make('pdf', SOURCE, paper));
    expect(found).toMatchObject({ pages: 1, size });
    const text = plain(found.text);
    for (const said of [
      night.verdict.sentence,
      night.next,
      'Workshop at the bridge',
      'µΩ',
      `total ${night.bill.shown_mAh.toFixed(night.bill.decimals)}`,
      'allowance 50 mA',
      'Cautions',
    ]) {
      expect(text).toContain(plain(said));
    }
  });
});

test.each(['pdf', 'html', 'png', 'svg'] as const)('equal nights give equal bytes: %s', async (format) => {
  const first = await make(format);
  expect(first.equals(await make(format))).toBe(true);
  const other = await make(format, { ...SOURCE, workshop: 'Another' });
  expect(first.equals(other)).toBe(false);
});

const HOSTILE = [
  '<script>alert(1)</script>',
  '"\' onload=x>',
  ']]>',
  '&amp;&#0;',
  '\u0000\u0007\ud800',
  '\u202egpj.exe',
  '漢字 🚗 ﷽',
  '%PDF-1.4 endobj',
  '(((\\',
  'x'.repeat(3000),
  '\r\n\t',
  '${1}',
  '$&$`',
];

/** A generator with a seed, so that a failure can be replayed (mulberry32, public domain). */
function random(seed: number): () => number {
  let state = seed;
  return () => {
    state = (state + 0x6d2b79f5) | 0;
    let t = Math.imul(state ^ (state >>> 15), 1 | state);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 2 ** 32;
  };
}

describe('hostile text in every field', () => {
  const seeds = process.env['NIGHTDRAW_SOAK'] === '1' ? 200 : 6;
  test(`${seeds} reports are valid files`, { timeout: 600_000 }, async () => {
    for (let seed = 1; seed <= seeds; seed++) {
      const next = random(seed);
      const text = () =>
        Array.from({ length: 1 + Math.floor(next() * 4) }, () => HOSTILE[Math.floor(next() * HOSTILE.length)]).join('');
      const source: ReportSource = {
        ...SOURCE,
        workshop: text(),
        fileName: text(),
        personal: { plate: text(), vehicle: text(), customer: text() },
        info: { ...info!, job: text() },
        night: { ...night, allowance: { ...night.allowance, source: text() } },
      };
      const svg = (await make('svg', source)).toString();
      // The renderer refuses what is not well-formed XML.
      expect(new Resvg(svg).width, `seed ${seed}`).toBeGreaterThan(500);
      const html = (await make('html', source)).toString();
      expect(/<script|<[^>]* onload=/i.test(html.replace(/"[^"]*"/g, '""')), `seed ${seed}`).toBe(false);
      const found = pdfText(await make('pdf', source));
      expect(found.pages, `seed ${seed}`).toBe(1);
      expect(plain(found.text), `seed ${seed}`).toContain('Cautions');
    }
  });

  test('letters that turn the direction or end a line are taken out', () => {
    expect(printable('a\u202eb\r\nc\ud800')).toBe('a b c');
  });
});
