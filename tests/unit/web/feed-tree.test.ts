// The feed tree as rows and as a drawing: what is folded, what each row says, and that it can
// be read on a phone.
import { describe, expect, test } from 'vitest';
import type { FeedState, FeedTreeAnswer } from '../../../host/contract/api.ts';
import { feedRows } from '../../../web/chart/feed-rows.ts';
import type { FeedRow } from '../../../web/chart/feed-rows.ts';
import { drawFeedTree } from '../../../web/chart/feed-tree.ts';
import { estimateText } from '../../../web/chart/text.ts';
import { textOf, toText } from '../../../web/chart/tree.ts';
import type { Shape } from '../../../web/chart/tree.ts';

type Node = FeedTreeAnswer['nodes'][number];
const fuse = (name: string, parent: number | null, box = 'dash'): Node => ({
  name,
  kind: 'fuse',
  box,
  rating_A: 10,
  parent,
  readable: true,
});
const part = (name: string, parent: number): Node => ({ ...fuse(name, parent), kind: 'part', readable: false });
/** L1 feeds F1 (radio, screen), F2 (clock), F3 (horn), F4 (amplifier). */
const TREE: FeedTreeAnswer = {
  nodes: [
    fuse('L1', null, 'battery'),
    ...['F1', 'F2', 'F3', 'F4'].map((name) => fuse(name, 0)),
    ...[part('radio', 1), part('screen', 1), part('clock', 2), part('horn', 3), part('amplifier', 4)],
  ],
};
const STATE: FeedState = {
  states: 'pprrpprrrp',
  shares: [
    [0, 100],
    [1, 40],
    [4, 60],
    [5, 40],
    [9, 60],
  ],
  named: [],
  out: [],
  alone: [],
  restricted: [],
  next: { kind: 'pull', node: 4 },
};
const rowsOf = (state: Partial<FeedState> = {}, opened: [string, boolean][] = [], named_mA: number[] = []) =>
  feedRows({ tree: TREE, state: { ...STATE, ...state }, named_mA }, new Map(opened));
const names = (rows: FeedRow[]) => rows.map(({ name, level }) => `${'  '.repeat(level)}${name}`);

describe('rows', () => {
  test('from the battery to the parts; what is ruled out is one row, which opens', () => {
    expect(names(rowsOf())).toEqual([
      'Battery',
      '  L1',
      '    F1',
      '      radio',
      '      screen',
      '    F4',
      '      amplifier',
      '    2 branches ruled out',
    ]);
    expect(rowsOf().at(-1)).toMatchObject({ words: ['F2, F3'], open: false, mark: 'folded' });
    expect(names(rowsOf({}, [['ruled out 0', true]])).slice(-3)).toEqual([
      '    2 branches ruled out',
      '      F2',
      '      F3',
    ]);
    expect(
      names(
        rowsOf({}, [
          ['ruled out 0', true],
          ['2', true],
          ['1', false],
        ]),
      ),
    ).toEqual([
      'Battery',
      '  L1',
      '    F1',
      '    F4',
      '      amplifier',
      '    2 branches ruled out',
      '      F2',
      '        clock',
      '      F3',
    ]);
  });

  test('each says all that is known of it', () => {
    const rows = rowsOf(
      { states: 'pprrprorrn', named: [9], out: [3], alone: [1], restricted: [2], next: { kind: 'drop', node: 1 } },
      [
        ['ruled out 0', true],
        ['3', true],
      ],
      [236],
    );
    const words = Object.fromEntries(rows.map((row) => [row.name, row.words.join('; ')]));
    expect(words).toMatchObject({
      L1: '100 % likely; 10 A, battery',
      F1: 'next: read the voltage across it; 40 % likely; left alone; 10 A, dash',
      radio: 'ruled out; left alone',
      F2: "ruled out; maker's procedure only; 10 A, dash",
      F3: 'out; ruled out; 10 A, dash',
      horn: 'no feed now; ruled out',
      amplifier: 'named, 236 mA',
    });
  });

  // A fuse that is out, or is next, must not hide behind a fold.
  test('what is out or next is never folded away', () => {
    for (const state of [{ out: [7] }, { next: { kind: 'refit', node: 7 } as const }])
      expect(names(rowsOf(state))).toContain('      clock');
  });

  test('nothing known yet: closed but for the first fuses, so that a large car fits', () => {
    const rows = rowsOf({ states: 'o'.repeat(10), shares: [], next: null });
    expect(names(rows)).toEqual(['Battery', '  L1']);
    expect(rows[1]!.open).toBe(false);
  });
});

describe('the drawing', () => {
  const all = (node: Shape): Shape[] => [
    node,
    ...node.children.flatMap((child) => (typeof child === 'string' ? [] : all(child))),
  ];
  const drawn = (width_px: number) => {
    const long = { ...TREE, nodes: TREE.nodes.map((node) => ({ ...node, name: `${node.name} of a very long name` })) };
    const rows = feedRows({ tree: long, state: STATE, named_mA: [] }, new Map());
    return { rows, svg: drawFeedTree(rows, { width_px, measure: estimateText, current: '1' }) };
  };

  test.each([280, 358, 640])('%i px wide: every row is high enough for a finger, and no text leaves it', (width_px) => {
    const { rows, svg } = drawn(width_px);
    const items = all(svg).filter(({ attrs }) => attrs['role'] === 'treeitem');
    expect(items).toHaveLength(rows.length);
    expect(svg.attrs['height']).toBe(48 * rows.length);
    for (const item of items)
      for (const { attrs, ...text } of all(item).filter(({ tag }) => tag === 'text')) {
        const size_px = Number(attrs['font-size']);
        const width = estimateText(textOf({ attrs, ...text }), size_px, attrs['font-weight'] !== undefined);
        expect(Number(attrs['x']) + width).toBeLessThanOrEqual(width_px);
        expect(width).toBeGreaterThan(60);
      }
  });

  test('a tree to a screen reader: level, open or closed, one row in the order of the Tab key', () => {
    const { svg } = drawn(358);
    const items = all(svg).filter(({ attrs }) => attrs['role'] === 'treeitem');
    expect(items.map(({ attrs }) => [attrs['aria-level'], attrs['aria-expanded']])).toEqual([
      [1, undefined],
      [2, 'true'],
      [3, 'true'],
      [4, undefined],
      [4, undefined],
      [3, 'true'],
      [4, undefined],
      [3, 'false'],
    ]);
    expect(items.filter(({ attrs }) => attrs['tabindex'] === 0).map(({ attrs }) => attrs['data-key'])).toEqual(['1']);
    expect(textOf(items[5]!.children[0]!)).toBe('F4 of a very long name, next: pull it, 60 % likely, 10 A, dash');
    expect(toText(svg)).toContain('role="tree"');
  });
});
