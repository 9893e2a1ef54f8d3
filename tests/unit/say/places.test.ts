// The cautions stand where the hand is: `analyse`, `record`, `calibrate`, the bay, the
// report. The pages are looked at in tests/browser/smoke.test.ts.
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { PREPARATION } from '../../../host/bay/work/preparation.ts';
import { CLOSING_LIST } from '../../../host/bay/work/repair.ts';
import { BayScreen } from '../../../host/commands/bay-screen.ts';
import { inWords } from '../../../host/commands/night-words.ts';
import { RecordScreen } from '../../../host/commands/record-screen.ts';
import { BEFORE_PULLING, CAUTIONS, WHILE_CALIBRATING, WHILE_RECORDING } from '../../../host/say/cautions.ts';
import { nightdraw } from '../../in-process.ts';
import { MISREAD } from '../analysis/meaning/scenarios.ts';
import { meaningOf } from '../analysis/meaning/scene.ts';
import { HeldWork } from '../bay/held-work.ts';

let folder: string;
let night: string;

beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'nightdraw-cautions-'));
  night = join(folder, 'night.csv');
  const rows = Array.from({ length: 720 }, (_, i) => `${i * 10},${(i < 60 ? 400 : 130) + Math.sin(i) / 10}`);
  writeFileSync(night, `t_s,current_mA\n${rows.join('\n')}\n`);
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** As it is read: without the ends of lines and what marks them. */
const plain = (text: string) => text.replace(/\r?\n\s*!? ?/g, ' ').replace(/\s+/g, ' ');

describe('in the terminal', () => {
  test('analyse: all that matters before a fuse is pulled; "Next" begins with what disturbs nothing', async () => {
    const { stdout } = await nightdraw('analyse', night);
    for (const caution of BEFORE_PULLING) expect(plain(stdout)).toContain(caution);
    const next = plain(/Next: [^]*?\n\n/.exec(stdout)![0]);
    expect(next).toMatch(
      /^Next: .*Read voltages across the fuses before you pull one: reading disturbs nothing\. Then pull .*Bridge on again before a fuse goes back in/,
    );
  });

  test('record, before the first reading', () => {
    let shown = '';
    new RecordScreen({ write: (text: string) => (shown += text) }, 11.8, () => new Date(0)).begin();
    for (const caution of WHILE_RECORDING) expect(plain(`\n${shown}`)).toContain(caution);
    expect(shown.split('\n').filter((line) => line.length > 80)).toEqual([]);
  });

  test('calibrate --help', async () => {
    const { stdout } = await nightdraw('calibrate', '--help');
    for (const caution of WHILE_CALIBRATING) expect(plain(stdout)).toContain(caution);
  });

  test('bay, item by item of the preparation', () => {
    let shown = '';
    const screen = new BayScreen({ isTTY: true, columns: 80, write: (text: string) => (shown += text) });
    const work = HeldWork.start('box,position,rating,type,feeds\na,F1,10,regular,radio');
    for (let at = 0; at < PREPARATION.length; at++) {
      screen.show(work.view);
      work.act({ do: 'tap' }, 0);
    }
    const words = plain(shown);
    for (const id of [
      'maker',
      'body',
      'frozen',
      'lockedOut',
      'hybrid',
      'hybridCharges',
      'earthedCharger',
      'bridgeFirst',
      'neverStart',
      'nobodyStarts',
      'bridgeAgain',
    ] as const)
      expect(words).toContain(CAUTIONS[id].text);
    expect(words).toContain('Bonnet open, its switch held closed, not unplugged.');
    expect(words).toContain('Key several metres away, or as the maker says; car locked.');
    expect(words).not.toMatch(/1\.5 m|switch held down or unplugged/);
  });
});

test('a night with a charger: normal on a hybrid or electric car', () => {
  const scenario = MISREAD.find(({ name }) => name === 'a charger from two to five')!;
  expect(plain(inWords(meaningOf(scenario)))).toContain(
    'Take the charger off and record again. Hybrid or electric car: its DC/DC converter may charge the 12 V battery unasked while parked, which is normal there.',
  );
});

test('the report', async () => {
  const out = join(folder, 'night.html');
  const { status } = await nightdraw('report', night, '--out', out);
  expect(status).toBe(0);
  const page = readFileSync(out, 'utf8').replaceAll('&#39;', "'").replaceAll('&quot;', '"');
  for (const caution of BEFORE_PULLING) expect(page).toContain(caution);
});

test('the closing list: cable on, bridge off last, battery recharged, charging voltage checked', () => {
  const words = CLOSING_LIST.map(({ text }) => text);
  expect(words).toContain('Bridge on, board out, cable on the post, bridge off last.');
  expect(words).toContain('Battery recharged, charging voltage checked.');
});
