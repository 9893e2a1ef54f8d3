// The feed tree as a drawing: one row under the other, indented by how far it is from the
// battery, each with a mark and its words, high enough for a finger in a glove. Colours and
// what is pressed are the page's affair; `data-key` and the roles of a tree say what is what.

import type { FeedRow } from './feed-rows.ts';
import { fitText } from './text.ts';
import type { MeasureText } from './text.ts';
import { shape } from './tree.ts';
import type { Shape } from './tree.ts';

/** 12 mm at 96 px an inch are 45 px. */
const ROW_px = 48;
const INDENT_px = 18;
/** From the left of a row to its mark, and on to its words. */
const MARK_px = 30;
const TEXT_px = 48;
const NAME_SIZE_px = 16;
const WORDS_SIZE_px = 13.5;
/** How likely it is, as a bar at the right. */
const BAR = { width: 52, height: 10 };

export interface FeedSurface {
  width_px: number;
  measure: MeasureText;
  /** The row that the keyboard is at. */
  current: string;
}

export function drawFeedTree(rows: readonly FeedRow[], surface: FeedSurface): Shape {
  const { width_px } = surface;
  const height = rows.length * ROW_px;
  return shape(
    'svg',
    {
      xmlns: 'http://www.w3.org/2000/svg',
      width: width_px,
      height,
      viewBox: `0 0 ${width_px} ${height}`,
      role: 'tree',
      'aria-label': 'Feed tree',
    },
    [
      shape('g', { class: 'feed-links', 'aria-hidden': 'true' }, linksOf(rows)),
      ...rows.map((row, i) => rowShape(row, i, surface)),
    ],
  );
}

const markX = (level: number) => level * INDENT_px + MARK_px;
const middleY = (i: number) => (i + 0.5) * ROW_px;

function linksOf(rows: readonly FeedRow[]): Shape[] {
  return rows.flatMap(({ parent, level, mark }, i) =>
    parent === null
      ? []
      : [
          shape('path', {
            d: `M${markX(level - 1)} ${middleY(parent) + 9}V${middleY(i)}H${markX(level) - 10}`,
            'stroke-dasharray': mark === 'ruled out' || mark === 'folded' ? '2 4' : undefined,
          }),
        ],
  );
}

function rowShape(row: FeedRow, i: number, { width_px, measure, current }: FeedSurface): Shape {
  const { key, level, name, words, mark, next, out, open, share_percent } = row;
  const x = markX(level);
  const y = middleY(i);
  const textX = x - MARK_px + TEXT_px;
  const bar = mark === 'possible' ? BAR.width + 12 : 6;
  const line = (text: string, size: number, dy: number, bold: boolean, kind: string) =>
    shape(
      'text',
      // Cut where it is too long; the title of the row has all of it.
      {
        ...{ class: kind, 'aria-hidden': 'true', x: textX, y: y + dy },
        ...{ 'font-size': size, 'font-weight': bold ? 600 : undefined },
      },
      [fitText(text, width_px - textX - (size === NAME_SIZE_px ? bar : 6), size, bold, measure)],
    );
  const bold = next || mark === 'named' || out;
  return shape(
    'g',
    {
      class: next ? 'feed-row feed-next' : 'feed-row',
      'data-mark': mark,
      role: 'treeitem',
      'aria-level': level + 1,
      'aria-expanded': open === null ? undefined : String(open),
      tabindex: key === current ? 0 : -1,
      'data-key': key,
    },
    [
      shape('title', {}, [[name, ...words].join(', ')]),
      shape('rect', { class: 'ground', x: 1, y: i * ROW_px + 1, width: width_px - 2, height: ROW_px - 2, rx: 3 }),
      ...(open === null ? [] : [arrow(x - 19, y, open)]),
      ...markOf(mark, out, x, y),
      line(name, NAME_SIZE_px, words.length === 0 ? 5 : -3, bold, 'feed-name'),
      ...(words.length === 0 ? [] : [line(words.join(' · '), WORDS_SIZE_px, 15, false, 'feed-words')]),
      ...(mark === 'possible' ? barOf(share_percent, width_px, y - 8) : []),
    ],
  );
}

const arrow = (x: number, y: number, open: boolean) =>
  shape('path', {
    class: 'arrow',
    d: open ? `M${x - 6} ${y - 3}h12l-6 7z` : `M${x - 3} ${y - 6}v12l7 -6z`,
  });

/** Told apart by form: full where it is named, a ring where it may be, crossed where it is ruled out. */
function markOf(mark: FeedRow['mark'], out: boolean, x: number, y: number): Shape[] {
  const marks: Record<FeedRow['mark'], Shape[]> = {
    battery: [
      shape('rect', { class: 'line', x: x - 8, y: y - 6, width: 16, height: 12 }),
      shape('path', { class: 'line', d: `M${x - 4} ${y - 6}v-3M${x + 4} ${y - 6}v-3` }),
    ],
    folded: [shape('path', { class: 'line soft', d: `M${x - 7} ${y - 4}h14M${x - 7} ${y}h14M${x - 7} ${y + 4}h14` })],
    named: [shape('rect', { class: 'full', x: x - 7, y: y - 7, width: 14, height: 14 })],
    possible: [shape('circle', { class: 'line', cx: x, cy: y, r: 6 })],
    'ruled out': [shape('path', { class: 'line soft', d: `M${x - 5} ${y - 5}l10 10m0 -10l-10 10` })],
    unknown: [shape('circle', { class: 'dot', cx: x, cy: y, r: 3 })],
  };
  const frame = shape('rect', {
    class: 'line',
    x: x - 10,
    y: y - 10,
    width: 20,
    height: 20,
    'stroke-dasharray': '4 3',
  });
  return out ? [...marks[mark], frame] : marks[mark];
}

function barOf(share_percent: number, width_px: number, y: number): Shape[] {
  const x = width_px - BAR.width - 8;
  const { width, height } = BAR;
  return [
    shape('rect', { class: 'bar', x, y: y - height / 2, width, height }),
    shape('rect', {
      class: 'share',
      x,
      y: y - height / 2,
      width: (width * Math.min(100, share_percent)) / 100,
      height,
    }),
  ];
}
