// Takes the gallery and the pictures of README.md as small PNG files, to be looked at, and
// writes beside each what it shows, as text (outline.ts). Run by hand, with
// `node --import tsx tests/browser/pictures.ts`, after a change of what is drawn.

import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { GALLERY, outlineOf } from './outline.ts';
import { ReadmeStage } from './readme-shots.ts';
import { setGallery, SHOTS, shown } from './shots.ts';

const kept = (name: string, outline: string) => {
  writeFileSync(join(GALLERY, `${name}.txt`), outline);
  console.log(name);
};
const png = (name: string) => join(GALLERY, `${name}.png`);

const stage = await setGallery();
for (const shot of SHOTS) {
  const page = await shown(stage, shot);
  await page.screenshot({ path: png(shot.name), fullPage: shot.full === true });
  kept(shot.name, await outlineOf(page));
  await page.context().close();
}
await stage.close();
if (stage.complaints.length > 0) throw new Error(stage.complaints.join('\n'));

const readme = new ReadmeStage();
await readme.open();
for (const name of ['readme-night', 'readme-live'] as const) {
  const page = await readme.shown(name);
  await page.screenshot({ path: png(name) });
  kept(name, await readme.outline(name, page));
}
readme.report(png('readme-report'));
kept('readme-report', await readme.outlineOfReport());
await readme.close();
