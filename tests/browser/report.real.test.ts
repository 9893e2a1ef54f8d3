// The report's HTML in a real browser: nothing that the accessibility rules object to, and
// its own fonts, without asking for anything from elsewhere.
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { chromium } from 'playwright-core';
import { afterAll, expect, test } from 'vitest';
import { expectAccessible } from './axe.ts';
import { CHROMIUM, FLAGS } from './page.ts';
import { interpret, optionsFrom } from '../../host/analysis/meaning/interpret.ts';
import { openTrace } from '../../host/night/open.ts';
import { makeReport } from '../../host/report/report.ts';
import { overviewOf } from '../../host/night/overview.ts';

const dir = mkdtempSync(join(tmpdir(), 'nightdraw-report-page-'));
afterAll(() => rmSync(dir, { recursive: true, force: true }));

test('the page has its own fonts, fetches nothing, and passes the accessibility rules', async () => {
  const { trace, voltage, info } = await openTrace(
    new URL('../../captures/wakes-often.nightdraw', import.meta.url).pathname,
  );
  const night = interpret({ trace, voltage, fullScale_mA: null }, optionsFrom({}));
  const whole = overviewOf(trace)(0, night.trace.duration_s, 700);
  const path = join(dir, 'report.html');
  writeFileSync(
    path,
    await makeReport(
      { night, info, personal: {}, workshop: null, logo: null, fileName: 'night.nightdraw', bay: null, before: null },
      whole,
      [],
      'html',
      'a4',
    ),
  );
  const browser = await chromium.launch({ executablePath: CHROMIUM, args: FLAGS, headless: true });
  try {
    // The rules are a script, which the page's own policy would refuse.
    const page = await (await browser.newContext({ bypassCSP: true })).newPage();
    const asked: string[] = [];
    page.on('request', (request) => void asked.push(request.url().slice(0, 20)));
    await page.goto(`file://${path}`);
    const fonts = await page.evaluate(
      async () => (await document.fonts.ready, [...document.fonts].map(({ status }) => status)),
    );
    expect(fonts).toEqual(['loaded', 'loaded']);
    expect(asked.filter((url) => !/^(file:|data:font\/ttf)/.test(url))).toEqual([]);
    await expectAccessible(page, 'the report');
  } finally {
    await browser.close();
  }
});
