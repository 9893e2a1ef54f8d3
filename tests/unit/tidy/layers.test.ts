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
  return { name, severity: 'error', from: { pathNot: [...homes, '^tests/', '^node_modules/'] }, to: { path: packagePath } };
}

const TYPES = '^host/capture/types\\.ts$';
const CONTRACT = '^host/contract/';
/** What a person reads; it imports nothing, and everyone may import it. */
const SAY = '^host/say/';
const FINDINGS = '^host/analysis/findings\\.ts$';

const RULES: IForbiddenRuleType[] = [
  only('the contract imports nothing of ours', CONTRACT, []),
  only('what is said imports nothing of ours', SAY, []),
  { name: 'what is said imports no package either', severity: 'error', from: { path: SAY }, to: { pathNot: SAY } },
  only('capture imports nothing of ours', '^host/capture/', []),
  only('link knows only the contract and the capture types', '^host/link/', [CONTRACT, TYPES]),
  only('analysis knows only the capture types', '^host/analysis/', [TYPES]),
  only('recorder knows contract, link and capture', '^host/recorder/', [CONTRACT, '^host/link/', '^host/capture/']),
  only('the bay knows captures, findings and their words', '^host/bay/', ['^host/capture/', '^host/analysis/']),
  only('the emulator stands alone', '^host/emulator/', []),
  only('a night is opened and judged', '^host/night/', ['^host/capture/', '^host/analysis/']),
  only('server reads captures, nights, recordings and the bay', '^host/server/', [CONTRACT, '^host/capture/', '^host/analysis/', '^host/night/', '^host/recorder/', '^host/bay/']),
  only('the report draws with the chart, and reads findings, capture types and what came of the bay', '^host/report/', ['^web/chart/', '^host/analysis/', '^host/bay/(results|repair)\\.ts$', TYPES]),
  only('the fleet reads findings alone', '^host/fleet/', [FINDINGS]),
  only('notices know the contract alone', '^host/notify/', [CONTRACT]),
  only('the chart knows neither page nor host, shared types apart', '^web/chart/', [TYPES, FINDINGS]),
  only('the page reaches the host by HTTP and shared types', '^web/', [TYPES, FINDINGS, '^host/server/api\\.ts$']),
  {
    name: 'the page takes types alone from the host',
    severity: 'error',
    from: { path: '^web/' },
    to: { path: '^host/', pathNot: SAY, dependencyTypesNot: ['type-only'] },
  },
  packageOnlyIn('serialport only in link', 'node_modules/(serialport|@serialport)/', ['^host/link/']),
  packageOnlyIn('express only in server', 'node_modules/(express|helmet)/', ['^host/server/']),
  packageOnlyIn('the database driver only where it is chosen', '(node_modules/(@types/)?|^)better-sqlite3', ['^host/capture/sqlite\\.ts$']),
  packageOnlyIn('the writers of PDF and PNG only in report', 'node_modules/(pdfkit|svg-to-pdfkit|@resvg)/', ['^host/report/']),
  packageOnlyIn('the emulated core only in emulator', 'node_modules/avr8js/', ['^host/emulator/']),
  { name: 'no circles', severity: 'error', from: {}, to: { circular: true, viaOnly: { dependencyTypesNot: ['type-only'] } } },
];

/** Forbids what is there: a check that finds nothing would find nothing of the others either. */
const BROKEN = only('commands import nothing', '^host/commands/', []);

async function violations(rules: IForbiddenRuleType[]): Promise<string[]> {
  const { output } = await cruise(
    ['host', 'web'],
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
