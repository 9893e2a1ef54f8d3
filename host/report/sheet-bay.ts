// The part of the printed page that tells of the work in the bay and of the repair.

import type { MeasureText } from '../../web/chart/text.ts';
import type { Shape } from '../../web/chart/tree.ts';
import { shape } from '../../web/chart/tree.ts';
import { Column, SOFT } from './column.ts';
import type { BayContent, Tick } from './bay-content.ts';
import type { Content } from './content.ts';

export interface Place {
  x: number;
  y: number;
  width: number;
  gap: number;
  size: number;
  measure: MeasureText;
}

export interface Laid {
  shapes: Shape[];
  end: number;
}

function two({ x, y, width, gap, size, measure }: Place): [Column, Column] {
  const half = (width - gap) / 2;
  return [new Column(x, y, half, size, measure), new Column(x + half + gap, y, half, size, measure)];
}

/** @param picture of both nights, drawn for `height` and the right half of the page */
export function layRepair(
  repair: NonNullable<Content['repair']>,
  picture: Shape,
  height: number,
  shrunk: number,
  place: Place,
): Laid {
  const [left, right] = two(place);
  left
    .heading('Before and after the repair')
    .table(repair.table, 0, new Set([0]))
    .text(repair.legend, { fill: SOFT });
  const drawn = shape(
    'g',
    {
      transform: `translate(${(place.x + (place.width + place.gap) / 2).toFixed(2)} ${(right.y + 6).toFixed(2)}) scale(${(1 / shrunk).toFixed(4)})`,
    },
    picture.children,
  );
  return { shapes: [...left.shapes, drawn], end: Math.max(left.y, right.y + 6 + height) };
}

export function layBay(bay: BayContent, place: Place): Laid {
  const { x, width, size, measure } = place;
  const top = new Column(x, place.y, width, size, measure).heading('In the bay');
  bay.said.forEach((line) => top.text(line));
  top.table(bay.parts, 3, new Set([0, 1, 3]));
  const [left, right] = two({ ...place, y: top.y });
  left.heading('Pulled and read').table(bay.tests, 1, new Set([0, 1, 4]));
  if (bay.drops !== null) right.heading('Voltages across fuses').table(bay.drops, 4, new Set([0, 4]));
  const evidence = new Column(x, Math.max(left.y, right.y), width, size, measure);
  if (bay.evidence !== null)
    evidence.heading('Evidence from elsewhere').table(bay.evidence, 1, new Set([0, 1, 2, 3, 4, 5]));
  return { shapes: [top, left, right, evidence].flatMap((column) => column.shapes), end: evidence.y };
}

/** Boxes to be ticked by hand where they are not ticked yet. */
export function layClosing(closing: readonly Tick[], place: Place): Laid {
  const heading = new Column(place.x, place.y, place.width, place.size, place.measure).heading('Before the car goes');
  const columns = two({ ...place, y: heading.y });
  const half = Math.ceil(closing.length / 2);
  closing.forEach(({ text, ticked }, i) =>
    columns[i < half ? 0 : 1].text(text, { indent: place.size * 1.4, lead: ticked ? '☑' : '☐' }),
  );
  return {
    shapes: [heading, ...columns].flatMap((column) => column.shapes),
    end: Math.max(...columns.map((column) => column.y)),
  };
}
