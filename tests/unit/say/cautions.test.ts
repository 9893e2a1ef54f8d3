// The cautions stand in one wording: each has a source, and what is printed on paper or in
// a document says what the program says.
import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { CAUTIONS } from '../../../host/say/cautions.ts';
import type { CautionId } from '../../../host/say/cautions.ts';

/** A document without its line breaks, list marks and bold letters. */
const plain = (path: string) =>
  readFileSync(new URL(`../../../${path}`, import.meta.url), 'utf8')
    .replaceAll('**', '')
    .replace(/\s+/g, ' ');

test('each caution is short, ends as a sentence, and names its source', () => {
  for (const { text, source } of Object.values(CAUTIONS)) {
    expect(text).toMatch(/^[A-Z].*\.$/);
    expect(text.length, text).toBeLessThanOrEqual(200);
    expect(source, text).not.toBe('');
  }
});

test.each([
  'maker',
  'hybrid',
  'body',
  'frozen',
  'bridgeAgain',
  'neverStart',
  'nobodyStarts',
  'restricted',
  'earthedCharger',
  'lockedOut',
  'morning',
] satisfies CautionId[])('README.md says %s in the same words', (id) => {
  expect(plain('README.md')).toContain(CAUTIONS[id].text.replace(/\.$/, ''));
});

test('README.md latches the doors before clamping on', () => {
  expect(plain('README.md')).toMatch(
    /doors and boot latched by hand.*the board's supply on, start recording, bridge on/,
  );
});

describe('firmware/BOARD.md', () => {
  const board = plain('firmware/BOARD.md');

  test.each(['neverStart', 'restricted', 'bridgeAgain', 'nobodyStarts', 'frozen'] satisfies CautionId[])(
    'says %s in the same words',
    (id) => {
      expect(board).toContain(CAUTIONS[id].text.replace(/\.$/, ''));
    },
  );

  test('after F4 opened: engine off and key out before the bridge', () => {
    expect(board).toContain('engine off, key out, then the bridge');
    expect(board).not.toMatch(/Put the bridge on, then look/);
  });

  test('the bridge before refitting and doors, never for pulling', () => {
    expect(board).toContain('Not for pulling a fuse: with the bridge on nothing is measured.');
    expect(board).toContain('bridge on, board out, cable on the post, bridge off last');
  });

  test('lamp and resistor in a fused lead, never touched; the meter back to volts', () => {
    expect(board).toContain('through a lead with a 5 A fuse at the battery');
    expect(board).toContain('set the multimeter back to volts');
    expect(board).not.toMatch(/touch it, the reading|touch it briefly/);
  });

  test("a second board: drawing 2, its circuit's own fuse in series, 10 A", () => {
    expect(board).toMatch(/Drawing 2\. .*circuit's own fuse stays in series.*10 A or less/);
    expect(plain('firmware/second-board.svg')).toContain('Drawing 2: a second board at a fuse');
  });
});
