// The events of a night under one kind of id, and their marks: a rail above the
// plot with one row for each family, so that ten thousand wake-ups stay readable.

import { ofWakeUps } from '../../host/say/polling.ts';
import { charge, counted, time } from '../../host/say/quantities.ts';
import type { Findings, WakeUp } from '../../host/contract/findings.ts';
import type { Surface, View } from './data.ts';
import type { Box } from './placement.ts';
import type { Scale } from './scales.ts';
import { fitText } from './text.ts';
import type { Shape } from './tree.ts';
import { shape } from './tree.ts';

export type EventKind = 'step' | 'wakeup' | 'dip' | 'gap';

export interface NightEvent {
  /** `wakeup-12`: the kind, and the place in the findings. */
  id: string;
  kind: EventKind;
  start_s: number;
  end_s: number;
}

const known = new WeakMap<Findings, NightEvent[]>();

/** All events by the time at which they begin. Sorted once for each findings object. */
export function eventsOf(findings: Findings): NightEvent[] {
  const events = known.get(findings) ?? sortedEvents(findings);
  known.set(findings, events);
  return events;
}

function sortedEvents(findings: Findings): NightEvent[] {
  const spans = (kind: EventKind, list: { start_s: number; end_s: number }[]) =>
    list.map(({ start_s, end_s }, i): NightEvent => ({ id: `${kind}-${i}`, kind, start_s, end_s }));
  return [
    ...findings.steps.map(({ t_s }, i): NightEvent => ({ id: `step-${i}`, kind: 'step', start_s: t_s, end_s: t_s })),
    ...spans('wakeup', findings.wakeups),
    ...spans('dip', findings.dips),
    ...spans('gap', findings.trace.gaps),
  ].sort((a, b) => a.start_s - b.start_s);
}

/** Starts that differ by less are of the same event, told anew. */
const SAME_WITHIN_S = 2;

/** The id in later findings of an event of earlier ones; null where it is gone. */
export function sameEvent(id: string, before: Findings, after: Findings): string | null {
  const event = eventsOf(before).find((one) => one.id === id);
  if (event === undefined) return null;
  const off_s = (other: NightEvent) => Math.abs(other.start_s - event.start_s);
  const same = eventsOf(after).filter((other) => other.kind === event.kind && off_s(other) < SAME_WITHIN_S);
  return same.sort((a, b) => off_s(a) - off_s(b))[0]?.id ?? null;
}

export interface RailRow {
  kind: 'family' | 'single' | 'dip';
  /** From the fullest to the shortest wording; the first that fits is drawn. */
  titles: string[];
  events: { id: string; start_s: number; end_s: number }[];
}

/** Rows above the plot: the families that cost most first, then what is like no other, then dips. */
export function railRows(findings: Findings, rows_max: number): RailRow[] {
  const byFamily = new Map<number | null, RailRow['events']>();
  findings.wakeups.forEach((w, i) => {
    const event = { id: `wakeup-${i}`, start_s: w.start_s, end_s: w.end_s };
    const list = byFamily.get(w.family);
    if (list === undefined) byFamily.set(w.family, [event]);
    else list.push(event);
  });
  const members = (family: number | null) => byFamily.get(family) ?? [];
  const families = ofWakeUps(findings.families).sort((a, b) => b.count * b.charge_mAh - a.count * a.charge_mAh);
  const rows: RailRow[] = families.map((family): RailRow => {
    const count = counted(family.count, 'wake-up');
    const every = family.period_s === null ? '' : `, every ${time(family.period_s)}`;
    const each = `${time(family.duration_s)} and ${charge(family.charge_mAh)} each`;
    const name = `Family ${family.id}`;
    return {
      kind: 'family',
      titles: [
        `${name}: ${count}${every}, ${each}`,
        `${name}: ${count}${every}`,
        `${name}: ${count}`,
        `${family.count} ×`,
      ],
      events: members(family.id),
    };
  });
  const alone = members(null);
  if (alone.length > 0) {
    rows.push({
      kind: 'single',
      titles: [counted(alone.length, 'one-off wake-up'), counted(alone.length, 'wake-up'), `${alone.length} ×`],
      events: alone,
    });
  }
  if (findings.dips.length > 0) {
    rows.push({
      kind: 'dip',
      titles: [counted(findings.dips.length, 'dip'), `${findings.dips.length} ×`],
      events: findings.dips.map((dip, i) => ({ id: `dip-${i}`, start_s: dip.start_s, end_s: dip.end_s })),
    });
  }
  return foldRows(rows, rows_max);
}

/** Keeps the first rows; the rest share the last one. */
function foldRows(rows: RailRow[], rows_max: number): RailRow[] {
  if (rows.length <= rows_max) return rows;
  const rest = rows.slice(rows_max - 1);
  const events = rest.flatMap((row) => row.events).sort((a, b) => a.start_s - b.start_s);
  const inRows = (kind: RailRow['kind']) =>
    rest.filter((row) => row.kind === kind).reduce((sum, row) => sum + row.events.length, 0);
  const families = rest.filter((row) => row.kind === 'family').length;
  const parts = [
    ...(families > 0
      ? [`${counted(inRows('family'), 'wake-up')} in ${counted(families, 'more family', 'more families')}`]
      : []),
    ...(inRows('single') > 0 ? [counted(inRows('single'), 'one-off wake-up')] : []),
    ...(inRows('dip') > 0 ? [counted(inRows('dip'), 'dip')] : []),
  ];
  return [
    ...rows.slice(0, rows_max - 1),
    { kind: 'family', titles: [parts.join(', '), counted(events.length, 'more event'), `${events.length} ×`], events },
  ];
}

export const ROW_HEIGHT = 32;
const MARK_HEIGHT = 9;
const MARK_LEAST = 3;

/** Draws the rows from `top` down, between the plot's left and right edge. */
export function drawRail(rows: RailRow[], view: View, plot: Box, x: Scale, surface: Surface, top: number): Shape {
  const { palette, measure, text_px } = surface;
  const children = rows.map((row, r) => {
    const y = top + r * ROW_HEIGHT;
    const title =
      row.titles.find((t) => measure(t, text_px, false) <= plot.width) ??
      fitText(row.titles.at(-1)!, plot.width, text_px, false, measure);
    const markTop = y + 18;
    return shape('g', { 'data-row': row.kind }, [
      shape('text', { x: plot.x, y: y + 12, 'font-size': text_px, fill: palette.ink, 'data-title': 'rail' }, [title]),
      shape('line', {
        x1: plot.x,
        x2: plot.x + plot.width,
        y1: markTop + MARK_HEIGHT / 2,
        y2: markTop + MARK_HEIGHT / 2,
        stroke: palette.hairline,
        'stroke-width': 1,
      }),
      ...marksOf(row, view, plot, x).map((mark) => drawMark(row.kind, mark, markTop, surface)),
    ]);
  });
  return shape('g', { 'data-part': 'rail' }, children);
}

interface RailMark {
  id: string;
  from_px: number;
  to_px: number;
  selected: boolean;
}

/** The row's events within view, those of one pixel as one mark. */
function marksOf(row: RailRow, view: View, plot: Box, x: Scale): RailMark[] {
  const marks: RailMark[] = [];
  for (const event of row.events) {
    if (event.end_s < view.from_s || event.start_s > view.to_s) continue;
    const middle_px = (x(event.start_s) + x(event.end_s)) / 2;
    const half_px = Math.max(MARK_LEAST, x(event.end_s) - x(event.start_s)) / 2;
    const from_px = Math.max(plot.x, middle_px - half_px);
    const to_px = Math.min(plot.x + plot.width, middle_px + half_px);
    const selected = event.id === view.selected;
    const last = marks.at(-1);
    if (last !== undefined && !selected && !last.selected && from_px <= last.to_px + 1)
      last.to_px = Math.max(last.to_px, to_px);
    else marks.push({ id: event.id, from_px, to_px, selected });
  }
  return marks;
}

/** Families are bars, single wake-ups lozenges, dips triangles that point down: shape tells, not colour. */
function drawMark(kind: RailRow['kind'], mark: RailMark, top: number, surface: Surface): Shape {
  const { palette } = surface;
  const attrs = {
    'data-event': mark.id,
    fill: kind === 'dip' ? palette.asleep : palette.wake,
    ...(mark.selected ? { stroke: palette.ink, 'stroke-width': 2 } : {}),
  };
  const width = mark.to_px - mark.from_px;
  if (kind === 'family' || width > MARK_HEIGHT + 2) {
    return shape('rect', { ...attrs, x: mark.from_px, y: top, width, height: MARK_HEIGHT, rx: 1 });
  }
  const middle = (mark.from_px + mark.to_px) / 2;
  const half = MARK_HEIGHT / 2 + 1;
  const points =
    kind === 'single'
      ? [
          [middle, top - 1],
          [middle + half, top + half - 1],
          [middle, top + 2 * half - 1],
          [middle - half, top + half - 1],
        ]
      : [
          [middle - half, top],
          [middle + half, top],
          [middle, top + MARK_HEIGHT],
        ];
  return shape('polygon', {
    ...attrs,
    points: points.map((p) => p.map((v) => Math.round(v * 10) / 10).join(',')).join(' '),
  });
}

/** Spans in px within the plot, those that touch joined. */
export function spansInView(
  events: Pick<WakeUp, 'start_s' | 'end_s'>[],
  view: View,
  x: Scale,
  least_px: number,
): [number, number][] {
  const spans: [number, number][] = [];
  const [left, right] = [x(view.from_s), x(view.to_s)];
  for (const event of events) {
    if (event.end_s < view.from_s || event.start_s > view.to_s) continue;
    const from = Math.max(left, x(event.start_s));
    const to = Math.min(right, Math.max(x(event.end_s), from + least_px));
    const last = spans.at(-1);
    if (last !== undefined && from <= last[1] + 0.5) last[1] = Math.max(last[1], to);
    else spans.push([from, to]);
  }
  return spans;
}
