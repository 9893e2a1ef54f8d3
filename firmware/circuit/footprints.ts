// Where the pads of each package lie, mm from its middle, as the makers' land patterns have them (IPC-7351,
// sizes of the usual libraries; memory). Of our own only U5's, drawn apart so that 8 mm stay free beneath it.
import type { Part } from './shape.ts';

export interface Pad {
  number: string;
  x: number;
  y: number;
  w: number;
  h: number;
  /** Through the board; else on the front alone. */
  drill?: number;
}

/** Two pads side by side, 1 on the left. */
const pair = (half: number, w: number, h: number): Pad[] => [
  { number: '1', x: -half, y: 0, w, h },
  { number: '2', x: half, y: 0, w, h },
];
const wired = (half: number, size: number, drill: number): Pad[] =>
  pair(half, size, size).map((pad) => ({ ...pad, drill }));

/** Pins 1 to n/2 down the left, the rest up the right. */
function rows(count: number, pitch: number, half: number, w: number, h: number, drill?: number): Pad[] {
  const side = count / 2;
  return Array.from({ length: count }, (_, i) => {
    const isLeft = i < side;
    const row = isLeft ? i : count - 1 - i;
    const y = (row - (side - 1) / 2) * pitch;
    return { number: String(i + 1), x: isLeft ? -half : half, y, w, h, ...(drill === undefined ? {} : { drill }) };
  });
}

const grid = (columns: number, pitch: number, count: number): Pad[] =>
  Array.from({ length: count }, (_, i) => ({
    number: String(i + 1),
    x: (i % columns) * pitch,
    y: Math.floor(i / columns) * pitch,
    w: 1.7,
    h: 1.7,
    drill: 1,
  }));

const PACKAGES: Readonly<Record<string, Pad[]>> = {
  '1206, or axial 0207': pair(1.46, 1.13, 1.75),
  axial: wired(10, 2.4, 1.2),
  '0805, or 5 mm pitch': pair(0.95, 1, 1.45),
  radial: wired(1.25, 1.6, 0.8),
  SMB: pair(2.15, 2.5, 2.3),
  'DO-35': wired(3.81, 1.6, 0.8),
  'SOT-223': [
    { number: '1', x: -3.15, y: -2.3, w: 2, h: 1.5 },
    { number: '2', x: -3.15, y: 0, w: 2, h: 1.5 },
    { number: '3', x: -3.15, y: 2.3, w: 2, h: 1.5 },
    { number: '4', x: 3.15, y: 0, w: 2, h: 3.8 },
  ],
  'VSSOP-10': rows(10, 0.5, 2.2, 1.45, 0.3),
  'DIP-28': rows(28, 2.54, 3.81, 1.6, 1.6, 0.8),
  HC49: wired(2.44, 1.5, 0.8),
  '6 x 6 mm': wired(3.25, 2, 1.1),
  '3 mm': wired(1.27, 1.8, 0.9),
  '2.54 mm': grid(2, 2.54, 6),
  'SSOP-28': rows(28, 0.65, 3.6, 1.75, 0.35),
  // 10.3 mm over its feet: pads from 4 to 5.9 mm.
  'SOIC-16 wide': rows(16, 1.27, 4.95, 1.9, 0.6),
  'through the board': [
    { number: '1', x: 0, y: 0, w: 1.7, h: 1.7, drill: 0.92 },
    { number: '2', x: 0, y: 2.5, w: 1.7, h: 1.7, drill: 0.92 },
    { number: '3', x: 2, y: 2.5, w: 1.7, h: 1.7, drill: 0.92 },
    { number: '4', x: 2, y: 0, w: 1.7, h: 1.7, drill: 0.92 },
    { number: '5', x: 4.86, y: -4.77, w: 3.5, h: 3.5, drill: 2.33 },
    { number: '5', x: 4.86, y: 7.27, w: 3.5, h: 3.5, drill: 2.33 },
  ],
};

/** @throws for a package that nobody has drawn */
export function padsOf(part: Part): Pad[] {
  const pads = PACKAGES[part.package];
  if (pads === undefined) throw new Error(`no pads are known for ${part.ref}, ${part.package}`);
  return pads;
}
