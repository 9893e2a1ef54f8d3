// Where each part of the board sits: mm from the board's upper left corner, turned counter-clockwise. The
// clamps, their fuses and the shunt are not on it: four wires come from them.
import { BOARD } from './board.ts';
import { padsOf } from './footprints.ts';
import { OPEN } from './shape.ts';
import type { Part } from './shape.ts';

export const SIZE = { width: 120, height: 74 };
/** Without copper on either side: the computer's nets lie to the right of it. */
export const GAP = { from: 87, to: 95 };

/** ref -> x, y, degrees. */
const AT: Readonly<Record<string, readonly [number, number, number]>> = {
  R7: [20, 9, 0],
  D1: [36, 10, 270],
  C2: [40.5, 9, 270],
  U3: [47.5, 10, 0],
  C3: [56, 8, 270],
  R14: [12, 22, 0],
  D5: [24, 24, 180],
  C16: [27, 34, 90],
  R6: [12, 48, 0],
  R5: [12, 62, 0],
  D2: [20, 55, 270],
  D3: [23.5, 55, 90],
  D7: [21, 43, 180],
  D6: [21, 67.5, 180],
  R16: [29.5, 52, 0],
  R15: [29.5, 58, 0],
  C1: [34, 55.5, 90],
  U1: [39.5, 54, 180],
  C4: [36, 48.5, 90],
  R2: [46, 62, 90],
  R3: [43, 62, 90],
  R4: [46.5, 69, 0],
  U2: [54.2, 43.5, 180],
  C6: [46.5, 39, 90],
  C7: [46.5, 43.5, 90],
  C5: [62, 43.5, 90],
  Y1: [65.5, 37, 90],
  C8: [69.5, 40, 90],
  C9: [69.5, 34, 270],
  R9: [63, 65, 0],
  S1: [71, 69, 0],
  R8: [42, 33, 180],
  D4: [36, 27, 180],
  J1: [64, 11, 0],
  U4: [73.5, 53, 0],
  C10: [81, 59.5, 90],
  C11: [81, 64.5, 90],
  R10: [81, 30.8, 0],
  R11: [81, 34, 0],
  U5: [91, 36, 180],
  C12: [82.5, 41.4, 90],
  C13: [82.5, 37.4, 270],
  C14: [100.5, 42.6, 270],
  C15: [99.5, 36.2, 90],
  R12: [101.5, 30, 180],
  R13: [101.5, 33.2, 180],
  J2: [109, 40.5, 0],
};

/** Where a lead of 0.75 mm² from outside is soldered. */
export const WIRES: readonly { ref: string; net: string; x: number; y: number; from: string }[] = [
  { ref: 'W1', net: 'SUPPLY', x: 4, y: 9, from: 'F1' },
  { ref: 'W5', net: 'GND', x: 4, y: 32, from: 'F5' },
  { ref: 'W3', net: 'FUSED_BATTERY', x: 4, y: 48, from: 'F3' },
  { ref: 'W2', net: 'FUSED_CAR', x: 4, y: 62, from: 'F2' },
];
export const WIRE_PAD = { size: 3, drill: 1.5 };

/** For M3, and what its head covers, without copper: a metal case must not join the two sides by its screws. */
export const HOLES: readonly { ref: string; x: number; y: number }[] = [
  { ref: 'H1', x: 4, y: 4 },
  { ref: 'H2', x: SIZE.width - 4, y: 4 },
  { ref: 'H3', x: 4, y: SIZE.height - 4 },
  { ref: 'H4', x: SIZE.width - 4, y: SIZE.height - 4 },
];
export const HOLE = { drill: 3.2, free: 6.4 };

export interface PlacedPad {
  ref: string;
  number: string;
  net: string | null;
  x: number;
  y: number;
  w: number;
  h: number;
  isThrough: boolean;
}

export const isOutside = (part: Part): boolean => ['fuse', 'shunt', 'terminal'].includes(part.kind);
/** @throws where a part of the board has no place */
export function placeOf(part: Part): readonly [number, number, number] {
  const at = AT[part.ref];
  if (at === undefined) throw new Error(`${part.ref} has no place on the board`);
  return at;
}

/** Every pad where it lies on the board; quarter turns. */
export function placedPads(): PlacedPad[] {
  const own = BOARD.parts
    .filter((part) => !isOutside(part))
    .flatMap((part) => {
      const [x0, y0, turn] = placeOf(part);
      const angle = (turn * Math.PI) / 180;
      return padsOf(part).map((pad): PlacedPad => {
        const isAcross = turn % 180 !== 0;
        const net = part.on[pad.number]!;
        return {
          ref: part.ref,
          number: pad.number,
          net: net === OPEN ? null : net,
          x: x0 + pad.x * Math.round(Math.cos(angle)) + pad.y * Math.round(Math.sin(angle)),
          y: y0 - pad.x * Math.round(Math.sin(angle)) + pad.y * Math.round(Math.cos(angle)),
          w: isAcross ? pad.h : pad.w,
          h: isAcross ? pad.w : pad.h,
          isThrough: pad.drill !== undefined,
        };
      });
    });
  const { size } = WIRE_PAD;
  const wires = WIRES.map(({ ref, net, x, y }): PlacedPad => ({
    ref,
    number: '1',
    net,
    x,
    y,
    w: size,
    h: size,
    isThrough: true,
  }));
  const holes = HOLES.map(({ ref, x, y }): PlacedPad => ({
    ref,
    number: '',
    net: null,
    x,
    y,
    w: HOLE.free,
    h: HOLE.free,
    isThrough: true,
  }));
  return [...own, ...wires, ...holes];
}

/** For BOARD.md. */
export const layoutSaid = (): string =>
  `\`circuit/board.kicad_pcb\`: ${SIZE.width} x ${SIZE.height} mm, two layers of 35 µm, ${HOLES.length} holes for M3 in its corners, ${BOARD.parts.filter((part) => !isOutside(part)).length} parts on the front. Clamps, fuses and shunt are not on it: ${WIRES.map(({ ref, net, from }) => `${ref} takes the lead from ${from} (${net})`).join(', ')}.\n`;
