// A trace in 32 bits, as it is read for its findings, tells what the exact one tells.

import { describe, expect, test } from 'vitest';
import { analyse } from '../../../host/analysis/night/analyse.ts';
import { DEFAULT_OPTIONS } from '../../../host/contract/settings.ts';
import { openTrace } from '../../../host/night/open.ts';

const NIGHTS = ['steady-over', 'wakes-often'].map(
  (name) => [name, new URL(`../../../captures/${name}.nightdraw`, import.meta.url).pathname] as const,
);

describe.each(NIGHTS)('%s', (_, path) => {
  test('every figure of its findings is the same to a millionth', async () => {
    const [exact, single] = [await openTrace(path), await openTrace(path, { singles: true })];
    expect(exact.trace.mean_mA).toBeInstanceOf(Float64Array);
    expect(single.trace.mean_mA).toBeInstanceOf(Float32Array);
    const [wanted, found] = [analyse(exact.trace, DEFAULT_OPTIONS), analyse(single.trace, DEFAULT_OPTIONS)];
    expect(wanted.steps.length).toBeGreaterThan(0);
    const differing: string[] = [];
    compare(wanted, found, '', differing);
    expect(differing).toEqual([]);
  });
});

/** Paths at which two findings differ: in a word, in a number of things, or by more than a millionth. */
function compare(a: unknown, b: unknown, at: string, differing: string[]): void {
  if (typeof a === 'number' && typeof b === 'number') {
    if (!(Math.abs(a - b) <= 1e-6 * Math.max(1, Math.abs(a)))) differing.push(`${at}: ${a} ${b}`);
  } else if (typeof a === 'object' && a !== null && typeof b === 'object' && b !== null) {
    const [own, other] = [a, b] as [Record<string, unknown>, Record<string, unknown>];
    for (const key of new Set([...Object.keys(own), ...Object.keys(other)]))
      compare(own[key], other[key], `${at}.${key}`, differing);
  } else if (a !== b) differing.push(`${at}: ${String(a)} ${String(b)}`);
}
