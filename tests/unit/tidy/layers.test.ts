// Who may import whom: the house rules of DEVELOPERS.md, checked on the real imports.
import { cruise } from 'dependency-cruiser';
import type { ICruiseResult, IForbiddenRuleType } from 'dependency-cruiser';
import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';

const root = new URL('../../..', import.meta.url).pathname;

/** `name`: files under `from` import nothing of ours but files that match `may`. */
function only(name: string, from: string, may: string[]): IForbiddenRuleType {
  return {
    name,
    severity: 'error',
    from: { path: from },
    to: { path: '^(host|web|tests|firmware)/', pathNot: [from, ...may, ...(from === SAY ? [] : [SAY])] },
  };
}

function packageOnlyIn(name: string, packagePath: string, homes: string[]): IForbiddenRuleType {
  return {
    name,
    severity: 'error',
    from: { pathNot: [...homes, '^tests/', '^node_modules/'] },
    to: { path: packagePath },
  };
}

const CONTRACT = '^host/contract/';
/** What a person reads; it imports nothing, and everyone may import it. */
const SAY = '^host/say/';
const CAPTURE = '^host/capture/';
const FORMAT = '^host/capture/format/';
const READ = '^host/capture/read/';
const ANALYSIS = '^host/analysis/';
const TICKS = '^host/analysis/ticks/';
const LEVELS = '^host/analysis/levels/';
const WAKEUPS = '^host/analysis/wakeups/';
const TREE = '^host/bay/tree/';
const SEARCH = '^host/bay/search/';
const CHART = '^web/chart/';

const RULES: IForbiddenRuleType[] = [
  only('the contract imports nothing of ours', CONTRACT, []),
  only('what is said knows the shapes of the contract', SAY, [CONTRACT]),
  {
    name: 'what is said loads nothing but itself',
    severity: 'error',
    from: { path: SAY },
    to: { pathNot: SAY, dependencyTypesNot: ['type-only'] },
  },
  only('the format of a capture knows the contract alone', FORMAT, [CONTRACT]),
  only('a capture is read by its format', READ, [CONTRACT, FORMAT]),
  only('a capture is stored by its format, and read to go on', '^host/capture/store/', [CONTRACT, FORMAT, READ]),
  only('captures are exchanged by all of capture', '^host/capture/', [CONTRACT]),
  only('link knows the contract alone', '^host/link/', [CONTRACT]),
  only('ticks know the contract alone', TICKS, [CONTRACT]),
  only('levels are found in ticks', LEVELS, [CONTRACT, TICKS]),
  only('wake-ups are found among levels', WAKEUPS, [CONTRACT, TICKS, LEVELS]),
  only('a night is made of ticks, levels and wake-ups', '^host/analysis/night/', [CONTRACT, TICKS, LEVELS, WAKEUPS]),
  only('analysis knows the contract alone', ANALYSIS, [CONTRACT]),
  only('recorder knows contract, link and capture', '^host/recorder/', [CONTRACT, '^host/link/', CAPTURE]),
  only('the feed tree knows nothing else of the bay', TREE, []),
  only('the search knows the tree', SEARCH, [CONTRACT, TREE]),
  only('the session searches a tree', '^host/bay/session/', [CONTRACT, TREE, SEARCH]),
  only('the bay knows captures', '^host/bay/', [CONTRACT, CAPTURE]),
  only('proving knows the error budget of the circuit', '^host/prove/', [
    CONTRACT,
    '^firmware/circuit/(errors|given)\\.ts$',
  ]),
  only('the emulator stands alone', '^host/emulator/', []),
  only('a night is opened and judged', '^host/night/', [CONTRACT, CAPTURE, ANALYSIS]),
  only('server reads captures, nights, recordings and the bay', '^host/server/', [
    CONTRACT,
    CAPTURE,
    ANALYSIS,
    '^host/night/',
    '^host/recorder/',
    '^host/bay/',
    '^host/prove/',
  ]),
  only('the report draws findings with the chart', '^host/report/', [
    CONTRACT,
    CHART,
    ANALYSIS,
    '^host/bay/work/(results|repair)\\.ts$',
  ]),
  only('the fleet reads findings alone', '^host/fleet/', [CONTRACT]),
  only('notices know the contract alone', '^host/notify/', [CONTRACT]),
  only('the service knows nothing of ours', '^host/service/', []),
  only('the circuit knows itself alone', '^firmware/circuit/', []),
  only('only the program starts commands', '^host/(?!commands/|main\\.ts)', [
    '^host/(?!commands/)',
    CHART,
    '^firmware/circuit/',
  ]),
  only('the chart knows neither page nor host, shared types apart', CHART, [CONTRACT]),
  only('the page reaches the host by HTTP and shared types', '^web/', [CONTRACT]),
  {
    name: 'the page takes types alone from the host',
    severity: 'error',
    from: { path: '^web/' },
    to: { path: '^host/', pathNot: SAY, dependencyTypesNot: ['type-only'] },
  },
  packageOnlyIn('serialport only in link', 'node_modules/(serialport|@serialport)/', ['^host/link/']),
  packageOnlyIn('express only in server', 'node_modules/(express|helmet)/', ['^host/server/']),
  packageOnlyIn('the database driver only where it is chosen', '(node_modules/(@types/)?|^)better-sqlite3', [
    '^host/capture/format/sqlite\\.ts$',
  ]),
  packageOnlyIn('the writers of PDF and PNG only in report', 'node_modules/(pdfkit|svg-to-pdfkit|@resvg)/', [
    '^host/report/',
  ]),
  packageOnlyIn('the emulated core only in emulator', 'node_modules/avr8js/', ['^host/emulator/']),
  { name: 'no circles, of types neither', severity: 'error', from: {}, to: { circular: true } },
];

/** Forbids what is there: a check that finds nothing would find nothing of the others either. */
const BROKEN = only('commands import nothing', '^host/commands/', []);

async function violations(rules: IForbiddenRuleType[]): Promise<string[]> {
  const { output } = await cruise(
    ['host', 'web', 'firmware/circuit'],
    {
      baseDir: root,
      ruleSet: { forbidden: rules },
      validate: true,
      doNotFollow: { path: 'node_modules' },
      tsPreCompilationDeps: true,
      exclude: { path: '^\\.build/' },
    },
    { extensions: ['.ts', '.js', '.mjs', '.json'] },
  );
  const result = output as ICruiseResult;
  expect(result.summary.totalCruised).toBeGreaterThan(20);
  return result.summary.violations.map((v) => `${v.from} -> ${v.to}: ${v.rule.name}`);
}

describe('layers', () => {
  test('data flows one way, and a rule that forbids what is there finds it', async () => {
    const found = await violations([...RULES, BROKEN]);
    const known = found.filter((one) => one.endsWith(BROKEN.name!));
    expect(known.length).toBeGreaterThan(0);
    expect(found.filter((one) => !known.includes(one))).toEqual([]);
  });

  test('the portable part of the firmware includes no chip headers', () => {
    const folder = join(root, 'firmware/core');
    const bad: string[] = [];
    for (const name of readdirSync(folder)) {
      const text = readFileSync(join(folder, name), 'utf8');
      for (const [, header] of text.matchAll(/^\s*#include\s+[<"]([^>"]+)[>"]/gm)) {
        if (/^(avr|util)\/|boards\/(?!board\.h)|drivers\//.test(header!)) bad.push(`${name} includes ${header}`);
      }
    }
    expect(bad).toEqual([]);
  });
});
