// Which capture comes first, and what is known of one that is read anew.
import { describe, expect, test } from 'vitest';
import type { CaptureSummary } from '../../../host/contract/api.ts';
import { firstToOpen, keptKnown, newestFirst } from '../../../web/nights.ts';

const file = (name: string, written_ms: number) => ({ name, bytes: 1, written_ms });
const ready = (name: string, start: string | null, written_ms: number): CaptureSummary => ({
  state: 'ready',
  ...file(name, written_ms),
  start,
  duration_s: 60,
  job: '',
  verdict: { code: 'short', sentence: '' },
  work: false,
});
const waiting = (name: string, written_ms: number): CaptureSummary => ({ state: 'waiting', ...file(name, written_ms) });
const broken = (name: string, written_ms: number): CaptureSummary => ({
  state: 'unreadable',
  ...file(name, written_ms),
  reason: 'no',
});

describe('captures', () => {
  test('the newest night comes first, however its file was copied; what cannot be read comes last', () => {
    const written_ms = Date.parse('2026-12-01T08:00:00Z');
    const list = [
      ready('old', '2026-11-02T21:00:00Z', written_ms + 5),
      broken('bad', written_ms + 9),
      ready('new', '2026-11-24T21:00:00Z', written_ms),
      ready('clockless', null, Date.parse('2026-11-10T00:00:00Z')),
    ];
    expect(newestFirst(list).map((capture) => capture.name)).toEqual(['new', 'clockless', 'old', 'bad']);
  });

  test('the first to open waits for nights that are still being read, but not for ever', () => {
    const list = [ready('old', '2026-11-02T21:00:00Z', 5), waiting('unknown', Date.parse('2026-11-30T00:00:00Z'))];
    expect(firstToOpen(list, true)).toBeNull();
    expect(firstToOpen(list, false)).toBe('unknown');
    expect(firstToOpen([list[0]!], true)).toBe('old');
    expect(firstToOpen([], true)).toBeNull();
  });

  test('a night that is read anew keeps its last summary', () => {
    const known = ready('a', null, 1);
    expect(keptKnown([waiting('a', 2), waiting('b', 2)], [known])).toEqual([known, waiting('b', 2)]);
    expect(keptKnown([broken('a', 2)], [known])).toEqual([broken('a', 2)]);
  });
});
