// The report with work in the bay and with a night before the repair: what was found
// stands in every format, on one page, whatever somebody typed.

import { Resvg } from '@resvg/resvg-js';
import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { interpret, optionsFrom } from '../../../host/analysis/meaning/interpret.ts';
import { CLOSING_LIST, compareRepair } from '../../../host/bay/work/repair.ts';
import { bayResults } from '../../../host/bay/work/results.ts';
import type { BayResults } from '../../../host/bay/work/results.ts';
import { openTrace } from '../../../host/night/open.ts';
import type { BeforeSource, ReportSource } from '../../../host/report/source.ts';
import { makeReport } from '../../../host/report/report.ts';
import type { Format } from '../../../host/report/report.ts';
import { overviewOf } from '../../../host/night/overview.ts';
import { workedCar } from '../bay/worked-car.ts';

const dir = mkdtempSync(join(tmpdir(), 'nightdraw-report-bay-'));
afterAll(() => rmSync(dir, { recursive: true, force: true }));

const path = (name: string) => new URL(`../../../captures/${name}.nightdraw`, import.meta.url).pathname;
const judged = async (name: string) => {
  const { trace, voltage, info } = await openTrace(path(name));
  const night = interpret({ trace, voltage, fullScale_mA: null }, optionsFrom({}));
  return { night, info, whole: overviewOf(trace)(0, night.trace.duration_s, 700) };
};

let results: BayResults;
let source: ReportSource;
let make: (format: Format, of?: ReportSource) => Promise<Buffer>;

beforeAll(async () => {
  const worked = bayResults(workedCar());
  results = { ...worked, closing: worked.closing.map((item, i) => ({ ...item, ticked: i === 1 })) };
  const [one, other] = [await judged('steady-over'), await judged('wakes-often')];
  const before: BeforeSource = {
    fileName: 'monday.nightdraw',
    whole: one.whole,
    after_s: one.night.asleep!.after_s,
    result: compareRepair(one.night, other.night),
    closing: CLOSING_LIST,
  };
  source = {
    night: other.night,
    info: other.info,
    personal: {},
    workshop: null,
    logo: null,
    fileName: 'tuesday.nightdraw',
    bay: { results, fileName: 'car.nightdraw', start: '2026-11-24T09:00:00.000Z' },
    before,
  };
  make = (format, of = source) => makeReport(of, other.whole, [], format, 'a4');
});

const plain = (text: string) => text.replace(/\s+/g, ' ');

function pdfText(bytes: Buffer): { text: string; pages: number } {
  const file = join(dir, 'report.pdf');
  writeFileSync(file, bytes);
  return {
    text: plain(execFileSync('pdftotext', ['-layout', file, '-'], { encoding: 'utf8' })),
    pages: Number(/Pages:\s+(\d+)/.exec(execFileSync('pdfinfo', [file], { encoding: 'utf8' }))![1]),
  };
}

/** What anybody who gets the page must find on it. */
const said = (): string[] => [
  results.sentence,
  source.before!.result.sentence,
  results.sum!.sentence,
  'proven',
  'F2 > amplifier',
  'pulled fuse F2',
  '200 ± 1',
  'data sheet',
  'The fuses carry',
  'the customer',
  '4 : 1 for it',
  'Before and after the repair',
  'asleep level',
  'days until it may not crank',
  'Before the car goes',
  '☑',
  '☐',
  CLOSING_LIST[0]!.text,
];

describe('the report of a night, of the bay and of the repair', () => {
  test('as PDF is one page with all of it', async () => {
    const { text, pages } = pdfText(await make('pdf'));
    expect(pages).toBe(1);
    // A sentence broken over two lines stands beside another column's: its words are there.
    for (const words of said().filter((one) => one.length < 40)) expect(text).toContain(words);
    expect(text).toContain(plain(source.before!.result.sentence));
  });

  test('as HTML and SVG holds all of it, escaped', async () => {
    const html = (await make('html'))
      .toString()
      .replaceAll('\u00a0', ' ')
      .replaceAll('&gt;', '>')
      .replaceAll('&#39;', "'");
    for (const words of said()) expect(html).toContain(words);
    const svg = (await make('svg')).toString();
    expect(new Resvg(svg).width).toBeGreaterThan(500);
    expect(svg.match(/data-part="(before|after)"/g)).toHaveLength(2);
    for (const bytes of [html, svg]) expect(bytes).not.toContain('<b>seen');
  });

  test.each(['pdf', 'html', 'png', 'svg'] as const)(
    'equal sources give equal bytes, another result others: %s',
    async (format) => {
      const first = await make(format);
      expect(first.equals(await make(format))).toBe(true);
      expect(
        first.equals(
          await make(format, { ...source, bay: { ...source.bay!, results: { ...results, sentence: 'Undecided.' } } }),
        ),
      ).toBe(false);
    },
  );

  test('work in the bay alone is not judged as a night', async () => {
    const alone: ReportSource = { ...source, fileName: 'car.nightdraw', before: null };
    const html = (await make('html', alone)).toString().replaceAll('\u00a0', ' ');
    expect(html).toContain(`<h1>${results.sentence.replaceAll('>', '&gt;')}</h1>`);
    expect(html).toContain('Bridge on, then put back what is out: fuse F2 (a)');
    expect(html).not.toContain(source.night.verdict.sentence.slice(0, 30));
    expect(html).not.toContain('Charge bill');
    // The same work in a recording that had run all night before: the night is judged too.
    const later: ReportSource = { ...alone, bay: { ...alone.bay!, results: { ...results, from_s: 30_000 } } };
    expect((await make('html', later)).toString()).toContain('Charge bill');
  });

  test('a long session with hostile words stays one page and a valid file', async () => {
    const HOSTILE = `<script>alert(1)</script> "' onload=x> ]]> \u202egpj \u0000 漢字 ${'x'.repeat(400)}`;
    const long: BayResults = {
      ...results,
      sentence: HOSTILE,
      next: HOSTILE,
      out: [HOSTILE],
      tests: Array.from({ length: 60 }, (_, i) => ({ ...results.tests[i % results.tests.length]!, name: HOSTILE })),
      evidence: Array.from({ length: 30 }, () => ({
        ...results.evidence[0]!,
        name: HOSTILE,
        text: HOSTILE,
        source: HOSTILE,
      })),
      parts: Array.from({ length: 3 }, () => ({ ...results.parts[0]!, name: HOSTILE, way: HOSTILE })),
      drops: {
        ...results.drops!,
        rows: Array.from({ length: 60 }, () => ({ ...results.drops!.rows[0]!, name: HOSTILE })),
      },
    };
    const of: ReportSource = {
      ...source,
      bay: { ...source.bay!, results: long, fileName: HOSTILE },
      before: { ...source.before!, fileName: HOSTILE },
    };
    expect(new Resvg((await make('svg', of)).toString()).width).toBeGreaterThan(500);
    expect(/<script|<[^>]* onload=/i.test((await make('html', of)).toString().replace(/"[^"]*"/g, '""'))).toBe(false);
    const { text, pages } = pdfText(await make('pdf', of));
    expect(pages).toBe(1);
    expect(text).toContain('Cautions');
    expect(text).toContain("more; 'nightdraw analyse' lists them");
  });
});
