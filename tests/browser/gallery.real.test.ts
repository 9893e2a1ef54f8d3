// The pictures of the gallery and of README.md show what is drawn now: each is drawn anew and
// compared, part by part and word by word, with the outline that was written beside it.
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { GALLERY, outlineOf } from './outline.ts';
import type { Stage } from './page.ts';
import { ReadmeStage } from './readme-shots.ts';
import { setGallery, SHOTS, shown } from './shots.ts';

const README = ['readme-night', 'readme-live', 'readme-report'] as const;

function expectKept(name: string, outline: string): void {
  expect(outline, `${name}.png is not what is drawn now; run node --import tsx tests/browser/pictures.ts`).toBe(
    readFileSync(join(GALLERY, `${name}.txt`), 'utf8'),
  );
}

test('each picture has its outline, and nothing else is there', () => {
  const names = [...SHOTS.map(({ name }) => name), ...README];
  expect(readdirSync(GALLERY).sort()).toEqual(names.flatMap((name) => [`${name}.png`, `${name}.txt`]).sort());
});

describe('the gallery', () => {
  let stage: Stage;
  beforeAll(async () => void (stage = await setGallery()));
  afterAll(() => stage.close());

  test.each(SHOTS)('$name', async (shot) => {
    const page = await shown(stage, shot);
    expectKept(shot.name, await outlineOf(page));
    await page.context().close();
  });

  test('nobody complained', () => {
    expect(stage.complaints).toEqual([]);
  });
});

describe('the pictures of README.md', () => {
  const readme = new ReadmeStage();
  beforeAll(() => readme.open());
  afterAll(() => readme.close());

  test.each(['readme-night', 'readme-live'] as const)('%s', async (name) => {
    expectKept(name, await readme.outline(name, await readme.shown(name)));
  });

  test('readme-report', async () => {
    expectKept('readme-report', await readme.outlineOfReport());
  });
});
