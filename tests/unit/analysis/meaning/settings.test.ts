// The settings: every one documented with its limits, and everything wrong refused in one
// sentence that names the value, its limits and where to look.

import { optionsFrom } from '../../../../host/analysis/meaning/interpret.ts';
import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { CAUSES } from '../../../../host/analysis/meaning/causes.ts';
import { meaning } from '../../../../host/contract/meaning.ts';
import { faultOf, layered, readWorkshop, SETTINGS, toldInCapture } from '../../../../host/contract/settings.ts';
import { nightOptions, toldBy } from '../../../../host/commands/night-options.ts';
import { UsageError } from '../../../../host/commands/command.ts';

const root = new URL('../../../../', import.meta.url).pathname;
const page = readFileSync(`${root}host/analysis/meaning/SETTINGS.md`, 'utf8');
const rows = page.split('\n').filter((line) => line.startsWith('| `'));

describe('every setting is documented', () => {
  test.each(SETTINGS.map((setting) => [setting.key, setting] as const))('%s', (key, setting) => {
    const row = rows.find((line) => line.startsWith(`| \`${key}\` | \`--${setting.option}\` |`));
    expect(row, `SETTINGS.md has no row for ${key} with --${setting.option}`).toBeDefined();
    const { limits, words } = setting;
    if (limits !== null) expect(row).toContain(`${limits.min} to ${limits.max} ${limits.unit}`);
    for (const word of words ?? []) expect(row).toContain(`\`${word}\``);
    // One car's settings stand after the line that says so.
    expect(page.indexOf(row!) > page.indexOf('These belong to one car')).toBe(!setting.workshop);
  });

  test('nothing is documented that is not there', () => {
    const documented = rows.flatMap((line) => /^\| `(\w+)` \| `--/.exec(line)?.[1] ?? []);
    expect(documented.sort()).toEqual(SETTINGS.map((s) => s.key as string).sort());
  });

  test('every warning has its line, and is grave where it says so', () => {
    const codes = meaning.shape.warnings.element.shape.code.options;
    const scene = readFileSync(`${root}host/analysis/meaning/misreadings/scene.ts`, 'utf8');
    const grave = [.../GRAVE[^[]*\[([^\]]*)\]/.exec(scene)![1]!.matchAll(/'([\w-]+)'/g)].map((m) => m[1]!);
    const lines = page
      .slice(page.indexOf('## Warnings'))
      .split('\n')
      .filter((line) => line.startsWith('| `'));
    expect(codes.length).toBeGreaterThan(20);
    for (const code of codes) {
      const line = lines.find((l) => l.includes(`\`${code}\``));
      expect(line, code).toBeDefined();
      expect(line!.includes('(grave)'), code).toBe(grave.includes(code));
    }
  });

  test('the example in the page is read', () => {
    const example = /```json\n([\s\S]*?)```/.exec(page)![1]!;
    expect(readWorkshop(JSON.parse(example))).toMatchObject({ allowance_mA: 40, settle_min: 45 });
  });

  test('every cause has its source and something to try', () => {
    for (const cause of CAUSES) expect(cause.source.length > 10 && cause.try.length > 10, cause.code).toBe(true);
  });
});

describe('nonsense gets one clear sentence', () => {
  const wrong: [option: string, value: string, says: RegExp][] = [
    ['capacity', '0', /^--capacity 0 is not a number from 5 to 300 Ah; /],
    ['dead-after', '-3', /^--dead-after -3 is not a number from 0.1 to 365 days; /],
    ['volts-before', '9', /^--volts-before 9 is not a number from 10 to 13.5 V; /],
    ['volts-after', '24.6', /from 10 to 13.5 V; a 12 V battery/],
    ['allow', '1e9', /^--allow 1e9 is not a number from 0.1 to 10000 mA or 'reserve'; /],
    ['allow', 'lots', /is not a number/],
    ['allow', 'NaN', /is not a number/],
    ['allow', '', /is not a number/],
    ['settle', '0', /from 1 to 600 min/],
    ['reserve', '9999', /from 10 to 500 min/],
    ['temperature', '200', /from -40 to 60/],
    ['battery', 'gel', /is not 'flooded' or 'agm'/],
    ['proof', '1', /from 20 to 20000 mA/],
    ['allow-source', ' ', /is not a text/],
    ['allow-source', 'x'.repeat(300), /at most 200/],
  ];
  test.each(wrong)('--%s %s', (option, value, says) => {
    expect(() => toldBy({ [option]: value })).toThrow(UsageError);
    expect(() => toldBy({ [option]: value })).toThrow(says);
  });

  test('what does not make sense together', () => {
    expect(() => nightOptions({ allowance_mA: 'reserve' })).toThrow(/needs the battery's reserve capacity/);
    expect(() => nightOptions({ allowance_source: 'a manual' })).toThrow(/stands alone/);
    expect(() => nightOptions({ proof_at_min: 3 })).toThrow(/give --proof too/);
  });

  test.each<[unknown, RegExp]>([
    [[], /no settings/],
    [null, /no settings/],
    ['x', /no settings/],
    [{ alowance: 3 }, /'alowance' is no setting; known are allowance_mA, /],
    [{ before_V: 12 }, /before_V belongs to one car, not to a workshop; give it as --volts-before/],
    [{ capacity_Ah: 0 }, /capacity_Ah 0 is not a number from 5 to 300 Ah/],
    [{ capacity_Ah: '70' }, /capacity_Ah "70" is not a number/],
    [{ battery_type: 'gel' }, /battery_type "gel" is not 'flooded' or 'agm'/],
    [{ __proto__: null, constructor: 1 }, /'constructor' is no setting/],
  ])('a file with %j', (value, says) => {
    expect(() => readWorkshop(value)).toThrow(says);
  });
});

test('an option counts over the file, and takes no foreign source with it', () => {
  const file = { allowance_mA: 40, allowance_source: 'workshop rule', battery_type: 'agm' as const };
  expect(nightOptions(file, {}).allowance).toEqual({ allow_mA: 40, source: 'workshop rule', settle_min: 30 });
  expect(nightOptions(file, { allowance_mA: 70 }).allowance).toEqual({ allow_mA: 70, source: null, settle_min: 30 });
  expect(nightOptions(file, { capacity_Ah: 70 }).battery).toMatchObject({ type: 'agm', capacity_Ah: 70 });
});

test('the limits are limits: both ends are taken, beyond them nothing', () => {
  for (const setting of SETTINGS) {
    if (setting.limits === null) continue;
    const { min, max } = setting.limits;
    expect([faultOf(setting, min), faultOf(setting, max)]).toEqual([null, null]);
    for (const value of [min - 1e-6 * Math.max(1, Math.abs(min)), max * 1.01 + 0.01, NaN, Infinity, null, {}])
      expect(faultOf(setting, value), `${setting.key} ${JSON.stringify(value)}`).not.toBeNull();
  }
  expect(optionsFrom({ proof_mA: 400, proof_at_min: 2 }).proof).toEqual({ load_mA: 400, at_s: 120 });
});

test('what a capture tells of its car counts over the workshop, and nonsense in it does not', () => {
  const told = toldInCapture({
    path: 'x',
    car: { deadAfter_days: 6 },
    battery: { type: 'agm', capacity_Ah: 0, reserve_min: 120, before_V: 12.7 },
  });
  expect(told).toEqual({ dead_after_days: 6, battery_type: 'agm', reserve_min: 120, before_V: 12.7 });
  expect(toldInCapture({ path: 'x', car: null, battery: null })).toEqual({});
  expect(layered({ battery_type: 'flooded', settle_min: 40 }, told, { dead_after_days: 9 })).toEqual({
    ...told,
    settle_min: 40,
    dead_after_days: 9,
  });
});
