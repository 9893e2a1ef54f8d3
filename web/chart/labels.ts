// What is written into the plot: every step's change and the level after it, lone
// wake-ups, the asleep level and the allowance, gaps and marks. Placement decides where.

import { axisCurrent, change, current, time } from '../../host/say/quantities.ts';
import { timeWords } from '../../host/say/times.ts';
import type { WakeUp } from '../../host/contract/findings.ts';
import type { NightData, Surface, View } from './data.ts';
import { ladderPlaces } from './ladder.ts';
import type { Box, LabelRequest, PlacedLabel, Point } from './placement.ts';
import { inside, placeLabels } from './placement.ts';
import type { Scale } from './scales.ts';
import { fitText } from './text.ts';
import type { Shape } from './tree.ts';
import { shape } from './tree.ts';

const PAD_X = 5;
const LINE_HEIGHT = 1.45;
/** A family with at most this many members in view has each of them labelled. */
const SINGLY_MAX = 4;
/** A wake-up at least this wide shows the steps inside it. */
const OPEN_FROM_PX = 60;

/** More gaps than this in view are named only from this width on; the list has them all. */
const GAPS_FEW = 3;
const GAP_NAMED_FROM_PX = 12;

/** Only steps are led farther than this: what a long line leads to is read from the list sooner. */
const REACH_PX = 100;

/** A text in parts, the weighty ones bold. */
interface Words {
  parts: { text: string; bold: boolean }[];
  colour: string;
}

interface Wanted extends LabelRequest {
  words: Words;
  /** The event that a click leads to. */
  event: string | null;
  what: string;
  /** For steps of the night: whether to a lower current. */
  falls?: boolean;
}

export interface DrawnLabels {
  shapes: Shape;
  /** How many labels found no place. */
  left: number;
}

export function drawLabels(
  data: NightData,
  view: View,
  plot: Box,
  x: Scale,
  y: Scale,
  surface: Surface,
  cover: (box: Box) => number,
): DrawnLabels {
  const size_px = surface.text_px;
  const wanted = wantedLabels(data, view, plot, x, y, surface, size_px);
  const bounds: Box = { x: plot.x + 2, y: plot.y + 2, width: plot.width - 4, height: plot.height - 4 };
  let placement = placeLabels(withLadder(wanted, bounds), bounds, cover);
  let note: Shape[] = [];
  if (placement.left.length > 0) {
    // The note about what is left out needs a place of its own before all others.
    const box = noteBox(bounds, size_px, surface);
    if (inside(box, bounds)) {
      const below = { ...bounds, y: box.y + box.height + 3, height: bounds.height - box.height - 3 };
      placement = placeLabels(withLadder(wanted, below), bounds, cover, [box]);
      note = placement.left.length === 0 ? [] : [drawNote(placement.left.length, box, size_px, surface)];
    }
  }
  const byId = new Map(wanted.map((request) => [request.id, request]));
  const leaders = placement.placed.flatMap((placed) => drawLeader(placed, byId.get(placed.id)!));
  const texts = placement.placed.map((placed) => drawLabel(placed, byId.get(placed.id)!, size_px, surface, view));
  return {
    shapes: shape('g', { 'data-part': 'labels' }, [...leaders, ...texts, ...note]),
    left: placement.left.length,
  };
}

/** Crowded steps wish to stand as a ladder within `air`. */
function withLadder(wanted: Wanted[], air: Box): Wanted[] {
  const steps = wanted.filter((request) => request.falls !== undefined);
  const places = ladderPlaces(
    steps.map((request) => ({ request, falls: request.falls! })),
    air,
  );
  return wanted.map((request) => {
    const wished = places.get(request.id);
    return wished === undefined ? request : { ...request, wished };
  });
}

// oxlint-disable-next-line max-lines-per-function -- one list of labels, in the order of their rank
function wantedLabels(
  data: NightData,
  view: View,
  plot: Box,
  x: Scale,
  y: Scale,
  surface: Surface,
  size_px: number,
): Wanted[] {
  const { findings } = data;
  const { palette, measure } = surface;
  const wanted: Wanted[] = [];
  const height = (value: number) => Math.min(plot.y + plot.height, Math.max(plot.y, y(value)));
  const seen = (t_s: number) => t_s >= view.from_s && t_s <= view.to_s;
  const add = (
    what: string,
    id: string,
    kind: LabelRequest['kind'],
    anchor: Point,
    priority: number,
    words: Words,
    event: string | null,
  ) => {
    const width = words.parts.reduce((sum, part) => sum + measure(part.text, size_px, part.bold), 0) + 2 * PAD_X;
    const selected = event !== null && event === view.selected;
    wanted.push({
      id,
      kind,
      anchor,
      priority: selected ? priority + 5000 : priority,
      words,
      event,
      what,
      width,
      height: Math.ceil(size_px * LINE_HEIGHT),
      ...(kind === 'along' || what === 'step' || selected ? {} : { reach_px: REACH_PX }),
    });
  };
  addRulings(data, plot, y, palette, add);
  const addStep = (
    what: string,
    id: string,
    event: string,
    step: { t_s: number; from_mA: number; to_mA: number },
    base: number,
  ) => {
    if (!seen(step.t_s)) return;
    const anchor = { x: x(step.t_s), y: (height(step.from_mA) + height(step.to_mA)) / 2 };
    add(
      what,
      id,
      'point',
      anchor,
      base + Math.abs(height(step.from_mA) - height(step.to_mA)),
      stepWords(step, palette.ink),
      event,
    );
  };
  findings.steps.forEach((step, i) => {
    if (!seen(step.t_s)) return;
    addStep('step', `step-${i}`, `step-${i}`, step, 2000);
    wanted.at(-1)!.falls = step.to_mA < step.from_mA;
  });
  for (const { wake, i } of namedSingly(data, view)) {
    const open = x(wake.end_s) - x(wake.start_s) >= OPEN_FROM_PX;
    const middle_s = Math.min(view.to_s, Math.max(view.from_s, (wake.start_s + wake.end_s) / 2));
    const parts = [
      { text: `${time(wake.end_s - wake.start_s)}, peak `, bold: false },
      { text: current(wake.peak_mA), bold: true },
    ];
    add(
      'wakeup',
      `wakeup-${i}`,
      'point',
      { x: x(middle_s), y: height(wake.peak_mA) },
      1000,
      { parts, colour: palette.wake },
      `wakeup-${i}`,
    );
    if (open) wake.steps.forEach((step, s) => addStep('inner-step', `wakeup-${i}-step-${s}`, `wakeup-${i}`, step, 500));
  }
  for (const { gap, i } of namedGaps(data, view, x)) {
    const middle_s = (Math.max(gap.start_s, view.from_s) + Math.min(gap.end_s, view.to_s)) / 2;
    const parts = [{ text: `no readings for ${time(gap.end_s - gap.start_s)}`, bold: false }];
    add(
      'gap',
      `gap-${i}`,
      'point',
      { x: x(middle_s), y: plot.y + plot.height * 0.3 },
      800,
      { parts, colour: palette.ink },
      `gap-${i}`,
    );
  }
  data.marks.forEach((mark, i) => {
    if (!seen(mark.t_s)) return;
    const text = fitText(mark.text, Math.min(260, plot.width * 0.5), size_px, false, measure);
    add(
      'mark',
      `mark-${i}`,
      'point',
      { x: x(mark.t_s), y: plot.y + 5 },
      900,
      { parts: [{ text, bold: false }], colour: palette.ink },
      null,
    );
  });
  return wanted;
}

type Add = (
  what: string,
  id: string,
  kind: LabelRequest['kind'],
  anchor: Point,
  priority: number,
  words: Words,
  event: string | null,
) => void;

function addRulings(data: NightData, plot: Box, y: Scale, palette: Surface['palette'], add: Add): void {
  const { findings } = data;
  const along = (id: string, value_mA: number, lead: string, text: string, tail: string, colour: string) => {
    const at = y(value_mA);
    // Not a number where the allowance is not known yet.
    if (!(at >= plot.y && at <= plot.y + plot.height)) return;
    const parts = [
      { text: lead, bold: false },
      { text, bold: true },
      { text: tail, bold: false },
    ];
    add(id, id, 'along', { x: plot.x + plot.width, y: at }, 10_000, { parts, colour }, null);
  };
  if (findings.asleep !== null) {
    const { after_s, level_mA } = findings.asleep;
    along(
      'asleep',
      level_mA,
      'asleep level ',
      current(level_mA),
      plot.width < 480 ? '' : ` from ${after_s < 1 ? 'the start' : timeWords(data.start_ms).minutes(after_s)}`,
      palette.asleep,
    );
  }
  along('allowance', findings.allowance_mA, 'allowance ', axisCurrent(findings.allowance_mA), '', palette.allowance);
}

function stepWords(step: { from_mA: number; to_mA: number }, colour: string): Words {
  return {
    parts: [
      { text: `${change(step.to_mA - step.from_mA)} → `, bold: false },
      { text: current(step.to_mA), bold: true },
    ],
    colour,
  };
}

/** Wake-ups and dips that get a label each: those like no other, and members of families few in view. */
function namedSingly(data: NightData, view: View): { wake: WakeUp; i: number }[] {
  const seen = data.findings.wakeups
    .map((wake, i) => ({ wake, i }))
    .filter(({ wake }) => wake.end_s >= view.from_s && wake.start_s <= view.to_s);
  const counts = new Map<number, number>();
  for (const { wake } of seen) if (wake.family !== null) counts.set(wake.family, (counts.get(wake.family) ?? 0) + 1);
  const shown = seen.filter(
    ({ wake, i }) => wake.family === null || counts.get(wake.family)! <= SINGLY_MAX || `wakeup-${i}` === view.selected,
  );
  return shown.length <= 40 ? shown : shown.sort((a, b) => b.wake.charge_mAh - a.wake.charge_mAh).slice(0, 40);
}

/** Gaps that get a label each: all where they are few, else those wide enough to be looked at. */
function namedGaps(data: NightData, view: View, x: Scale): { gap: { start_s: number; end_s: number }; i: number }[] {
  const seen = data.findings.trace.gaps
    .map((gap, i) => ({ gap, i }))
    .filter(({ gap }) => gap.end_s >= view.from_s && gap.start_s <= view.to_s);
  if (seen.length <= GAPS_FEW) return seen;
  return seen.filter(
    ({ gap, i }) => x(gap.end_s) - x(gap.start_s) >= GAP_NAMED_FROM_PX || `gap-${i}` === view.selected,
  );
}

function drawLeader(placed: PlacedLabel, wanted: Wanted): Shape[] {
  if (placed.leader === null) return [];
  const { from, to } = placed.leader;
  return [
    shape('line', {
      x1: from.x,
      y1: from.y,
      x2: to.x,
      y2: to.y,
      stroke: wanted.words.colour,
      'stroke-width': 0.8,
      'data-part': 'leader',
    }),
    shape('circle', { cx: from.x, cy: from.y, r: 2, fill: wanted.words.colour }),
  ];
}

function drawLabel(placed: PlacedLabel, wanted: Wanted, size_px: number, surface: Surface, view: View): Shape {
  const { box } = placed;
  const selected = wanted.event !== null && wanted.event === view.selected;
  return shape('g', { 'data-label': wanted.what, ...(wanted.event === null ? {} : { 'data-event': wanted.event }) }, [
    shape('rect', {
      x: box.x,
      y: box.y,
      width: box.width,
      height: box.height,
      rx: 3,
      fill: surface.palette.sheet,
      'fill-opacity': 0.88,
      ...(selected ? { stroke: surface.palette.ink, 'stroke-width': 1.5 } : {}),
    }),
    // One text of several parts, each at a place of its own: readers without bold metrics keep them apart.
    shape(
      'text',
      { x: box.x + PAD_X, y: box.y + box.height / 2 + size_px * 0.36, 'font-size': size_px, fill: wanted.words.colour },
      wanted.words.parts
        .filter((part) => part.text !== '')
        .map((part) =>
          part.bold ? shape('tspan', { 'font-weight': 600 }, [part.text]) : shape('tspan', {}, [part.text]),
        ),
    ),
  ]);
}

function noteText(left: number): string {
  return `${left} more in a closer view`;
}

function noteBox(bounds: Box, size_px: number, surface: Surface): Box {
  const width = surface.measure(noteText(8888), size_px, false) + 2 * PAD_X;
  const height = Math.ceil(size_px * LINE_HEIGHT);
  return { x: bounds.x + bounds.width - width, y: bounds.y, width, height };
}

function drawNote(left: number, box: Box, size_px: number, surface: Surface): Shape {
  const { palette } = surface;
  const width = surface.measure(noteText(left), size_px, false) + 2 * PAD_X;
  return shape('g', { 'data-label': 'note' }, [
    shape('rect', {
      x: box.x + box.width - width,
      y: box.y,
      width,
      height: box.height,
      rx: 3,
      fill: palette.sheet,
      'fill-opacity': 0.88,
    }),
    shape(
      'text',
      {
        x: box.x + box.width - PAD_X,
        y: box.y + box.height / 2 + size_px * 0.36,
        'font-size': size_px,
        fill: palette.softInk,
        'text-anchor': 'end',
      },
      [noteText(left)],
    ),
  ]);
}
