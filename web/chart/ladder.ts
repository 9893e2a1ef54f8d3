// A staircase on its way down has free air to its upper right. Where its steps stand
// so close that their labels crowd, the labels climb that air as a ladder: in the
// order of the steps, each right of its own riser, none lower than it must be.

import type { Box, LabelRequest, Point } from './placement.ts';

export interface Rung {
  request: LabelRequest;
  /** The step leads to a lower current. */
  falls: boolean;
}

/** Steps farther apart than this do not crowd. */
const CROWD_PX = 70;
const RUNGS_LEAST = 3;
const SPACING_PX = 3;
const ASIDE_PX = 12;

/** Top left corners for the labels of crowded falling steps, by id. `steps` in the order of time. */
export function ladderPlaces(steps: Rung[], bounds: Box): Map<string, Point> {
  const places = new Map<string, Point>();
  let flight: LabelRequest[] = [];
  const end = () => {
    if (flight.length >= RUNGS_LEAST) climb(flight, bounds).forEach((place, id) => places.set(id, place));
    flight = [];
  };
  for (const { request, falls } of steps) {
    const last = flight.at(-1);
    if (last !== undefined && (!falls || request.anchor.x - last.anchor.x > CROWD_PX)) end();
    if (falls) flight.push(request);
  }
  end();
  return places;
}

/** Empty where the labels stand apart without help, or where the plot is too low for all of them. */
function climb(flight: LabelRequest[], bounds: Box): Map<string, Point> {
  const floor = bounds.y + bounds.height;
  const tops = flight.map(({ anchor, height }) => anchor.y - height / 2);
  let crowded = false;
  // Upwards from the lowest: into the air, not onto the stairs.
  let ceiling = floor;
  for (let i = flight.length - 1; i >= 0; i--) {
    const free = ceiling - flight[i]!.height;
    if (tops[i]! > free) {
      crowded = crowded || i < flight.length - 1;
      tops[i] = free;
    }
    ceiling = tops[i]! - SPACING_PX;
  }
  // Where the air ends, the top ones push the others down again.
  let least = bounds.y;
  for (let i = 0; i < flight.length; i++) {
    if (tops[i]! < least) tops[i] = least;
    least = tops[i]! + flight[i]!.height + SPACING_PX;
  }
  if (!crowded || least - SPACING_PX > floor) return new Map();
  return new Map(
    flight.map(({ id, anchor, width }, i) => [
      id,
      { x: Math.min(anchor.x + ASIDE_PX, bounds.x + bounds.width - width), y: tops[i]! },
    ]),
  );
}
