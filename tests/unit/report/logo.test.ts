// The workshop's logo in every format that it may have, in every format of the report:
// its dark half is where it belongs, seen by poppler's and resvg's renderers.
import { Resvg } from '@resvg/resvg-js';
import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import { interpret, optionsFrom } from '../../../host/analysis/meaning/interpret.ts';
import { openTrace } from '../../../host/night/open.ts';
import { readLogo } from '../../../host/commands/logo-file.ts';
import { makeReport } from '../../../host/report/report.ts';
import type { Format } from '../../../host/report/report.ts';
import { overviewOf } from '../../../host/night/overview.ts';

const dir = mkdtempSync(join(tmpdir(), 'nightdraw-logo-'));
afterAll(() => rmSync(dir, { recursive: true, force: true }));

const SVG =
  '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 60 20"><rect width="60" height="20" fill="#fff"/><rect width="30" height="20" fill="#003366"/></svg>';
/** The same drawing, as a browser's screenshot saves it. */
const JPEG =
  '/9j/2wBDABsSFBcUERsXFhceHBsgKEIrKCUlKFE6PTBCYFVlZF9VXVtqeJmBanGQc1tdhbWGkJ6jq62rZ4C8ybqmx5moq6T/2wBDARweHigjKE4rK06kbl1upKSkpKSkpKSkpKSkpKSkpKSkpKSkpKSkpKSkpKSkpKSkpKSkpKSkpKSkpKSkpKSkpKT/wAARCAAUADwDASIAAhEBAxEB/8QAFwABAQEBAAAAAAAAAAAAAAAAAAQGBf/EABoQAQABBQAAAAAAAAAAAAAAAAABAwU1grL/xAAWAQEBAQAAAAAAAAAAAAAAAAAEAAH/xAAXEQEBAQEAAAAAAAAAAAAAAAAAATEC/9oADAMBAAIRAxEAPwDjAFDC+w5ehtzKBfYcvQ25lnWVs1sABiABJgAChhfYcvQ25kGdZWzWwAGIAEn/2Q==';
const FILES: Record<string, Buffer> = {
  svg: Buffer.from(SVG),
  png: new Resvg(SVG).render().asPng(),
  jpg: Buffer.from(JPEG, 'base64'),
};

const { trace, voltage, info } = await openTrace(
  new URL('../../../captures/wakes-often.nightdraw', import.meta.url).pathname,
);
const night = interpret({ trace, voltage, fullScale_mA: null }, optionsFrom({}));
const whole = overviewOf(trace)(0, night.trace.duration_s, 700);

/** The report in dots, 595 wide: one for each point of A4. */
async function dotsOf(ending: string, format: Format): Promise<{ width: number; height: number; rgb: Buffer }> {
  writeFileSync(join(dir, `logo.${ending}`), FILES[ending]!);
  const logo = readLogo(`logo.${ending}`, [dir]);
  expect(logo.ratio).toBe(3);
  const bytes = await makeReport(
    { night, info, personal: {}, workshop: null, logo, fileName: 'x.nightdraw', bay: null, before: null },
    whole,
    [],
    format,
    'a4',
  );
  const path = join(dir, `report.${format}`);
  writeFileSync(path, bytes);
  let png = bytes;
  if (format === 'pdf') {
    execFileSync('pdftoppm', ['-r', '72', '-png', '-singlefile', path, join(dir, 'page')]);
    png = readFileSync(join(dir, 'page.png'));
  }
  const svg =
    format === 'svg'
      ? bytes.toString()
      : `<svg xmlns="http://www.w3.org/2000/svg" width="595" height="842"><image width="595" height="842" href="data:image/png;base64,${png.toString('base64')}"/></svg>`;
  const { width, height, pixels } = new Resvg(svg, { fitTo: { mode: 'width', value: 595 } }).render();
  return { width, height, rgb: pixels };
}

describe.each(['svg', 'png', 'jpg'])('a logo as %s', (ending) => {
  test.each(['pdf', 'png', 'svg'] as const)('stands at the top right of the %s', async (format) => {
    const { width, rgb } = await dotsOf(ending, format);
    const dark: number[] = [];
    for (let i = 0; i < width * 70; i++)
      if (rgb[4 * i]! < 40 && Math.abs(rgb[4 * i + 1]! - 51) < 25 && Math.abs(rgb[4 * i + 2]! - 102) < 25)
        dark.push(i % width);
    // 26 points high and three times as wide, half of it dark: 39 by 26.
    expect(dark.length).toBeGreaterThan(0.8 * 39 * 26);
    expect(dark.length).toBeLessThan(1.2 * 39 * 26);
    expect(Math.min(...dark)).toBeGreaterThan(width / 2);
  });

  test('is carried by the page in HTML itself', async () => {
    writeFileSync(join(dir, `own.${ending}`), FILES[ending]!);
    const html = (
      await makeReport(
        {
          night,
          info,
          personal: {},
          workshop: null,
          logo: readLogo(join(dir, `own.${ending}`), []),
          fileName: 'x.nightdraw',
          bay: null,
          before: null,
        },
        whole,
        [],
        'html',
        'a4',
      )
    ).toString();
    expect(html).toContain(FILES[ending]!.toString('base64'));
  });
});

test('what is no logo is refused in words', () => {
  const jpeg = FILES['jpg']!;
  const cut = jpeg.subarray(0, 60);
  for (const [name, bytes, why] of [
    ['text.png', Buffer.from('hello'), 'neither'],
    ['large.svg', Buffer.alloc(1_000_001, ' '), 'smaller'],
    ['cut.jpg', cut, 'damaged'],
    ['empty.jpg', Buffer.alloc(0), 'neither'],
  ] as const) {
    writeFileSync(join(dir, name), bytes);
    expect(() => readLogo(name, [dir])).toThrow(new RegExp(`${name}.*${why}`));
  }
  expect(() => readLogo('gone.png', [dir])).toThrow(/gone\.png .*is not there/);
});
