// The board file, read back without the code that wrote it: its pads are the circuit's pins, its copper joins
// what the circuit joins and nothing else, it keeps off the gap, and it carries what flows. The router alone.
import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { BOARD } from '../../../firmware/circuit/board.ts';
import { carriedBy_A } from '../../../firmware/circuit/copper.ts';
import { FUSE_HOLDS_TIMES } from '../../../firmware/circuit/given.ts';
import type { PlacedPad } from '../../../firmware/circuit/placement.ts';
import { route } from '../../../firmware/circuit/router.ts';
import type { Rules } from '../../../firmware/circuit/router.ts';
import { OPEN } from '../../../firmware/circuit/shape.ts';
import { lineToLine } from '../../../firmware/circuit/widening.ts';
import { netsOf, sorted } from './nets.ts';

type Point = [number, number];
interface Copper {
  net: string;
  layers: string[];
  from: Point;
  to: Point;
  /** Half its width, around the line; a pad is a line along its longer side, with square ends. */
  half: number;
  what: string;
}

const text = readFileSync(new URL('../../../firmware/circuit/board.kicad_pcb', import.meta.url), 'utf8');
const BOTH = ['F.Cu', 'B.Cu'];
const numbers = (words: string) => words.trim().split(/\s+/).map(Number);

/** Pads as they lie on the sheet, each with its part. */
function padsOf(file: string) {
  return file
    .split('\n  (footprint ')
    .slice(1)
    .flatMap((block) => {
      const ref = /^"(.*?)"/.exec(block)![1]!;
      const [x0, y0, turn = 0] = numbers(/\(at ([^)]*)\)/.exec(block)![1]!);
      const angle = (turn * Math.PI) / 180;
      const found = block.matchAll(
        /\(pad "(.*?)" (\w+) \w+ \(at ([^)]*)\) \(size ([^)]*)\)(?: \(drill ([^)]*)\))? \(layers ([^)]*)\)(?: \(net \d+ "(.*?)"\))?/g,
      );
      return [...found].map(([, number, kind, at, size, , , net]) => {
        const [dx, dy] = numbers(at!) as Point;
        const [w, h] = numbers(size!) as Point;
        return {
          ref,
          number: number!,
          net: net ?? null,
          isThrough: kind === 'thru_hole',
          x: x0! + dx * Math.cos(angle) + dy * Math.sin(angle),
          y: y0! - dx * Math.sin(angle) + dy * Math.cos(angle),
          w: Math.abs(w * Math.cos(angle)) + Math.abs(h * Math.sin(angle)),
          h: Math.abs(w * Math.sin(angle)) + Math.abs(h * Math.cos(angle)),
        };
      });
    });
}

const pads = padsOf(text);
const nets = new Map([...text.matchAll(/^ {2}\(net (\d+) "(.*)"\)$/gm)].map(([, number, name]) => [number!, name!]));
const tracks: Copper[] = [
  ...text.matchAll(/\(segment \(start ([^)]*)\) \(end ([^)]*)\) \(width ([^)]*)\) \(layer "(.*?)"\) \(net (\d+)\)/g),
].map(([, from, to, width, layer, net]) => ({
  net: nets.get(net!)!,
  layers: [layer!],
  from: numbers(from!) as Point,
  to: numbers(to!) as Point,
  half: Number(width) / 2,
  what: 'track',
}));
const vias: Copper[] = [...text.matchAll(/\(via \(at ([^)]*)\) \(size ([^)]*)\) .*?\(net (\d+)\)/g)].map(
  ([, at, size, net]) => ({
    net: nets.get(net!)!,
    layers: BOTH,
    from: numbers(at!) as Point,
    to: numbers(at!) as Point,
    half: Number(size) / 2,
    what: 'via',
  }),
);
const lands: Copper[] = pads.map((pad) => {
  const half = Math.min(pad.w, pad.h) / 2;
  const [ex, ey] = [pad.w / 2 - half, pad.h / 2 - half];
  return {
    net: pad.net ?? `open ${pad.ref}.${pad.number}`,
    layers: pad.isThrough ? BOTH : ['F.Cu'],
    from: [pad.x - ex, pad.y - ey],
    to: [pad.x + ex, pad.y + ey],
    half,
    what: `${pad.ref}.${pad.number}`,
  };
});
const copper = [...tracks, ...vias, ...lands];
const apart = (a: Copper, b: Copper) =>
  a.layers.some((layer) => b.layers.includes(layer))
    ? lineToLine(a.from, a.to, b.from, b.to) - a.half - b.half
    : Infinity;

describe('the board file', () => {
  test('has each pin of each part that sits on the board as a pad of its net, and four wires', () => {
    const outside = new Set(
      BOARD.parts.filter((part) => /fuse|shunt|terminal/.test(part.kind)).map((part) => part.ref),
    );
    const found: Record<string, string[]> = {};
    for (const pad of pads)
      if (pad.net !== null && !pad.ref.startsWith('W')) (found[pad.net] ??= []).push(`${pad.ref}.${pad.number}`);
    const wanted = Object.entries(netsOf(BOARD))
      .map(([net, pins]) => [net, pins.filter((pin) => !outside.has(pin.split('.')[0]!))] as const)
      .filter(([, pins]) => pins.length > 0);
    expect(sorted(found)).toEqual(sorted(Object.fromEntries(wanted)));
    const open = [
      ...new Set(
        pads.filter((pad) => pad.net === null && !pad.ref.startsWith('H')).map((pad) => `${pad.ref}.${pad.number}`),
      ),
    ];
    const meant = BOARD.parts.flatMap((part) =>
      Object.entries(part.on).flatMap(([pin, net]) => (net === OPEN ? [`${part.ref}.${pin}`] : [])),
    );
    expect(open.toSorted()).toEqual(meant.toSorted());
    expect(pads.filter((pad) => pad.ref.startsWith('W')).map((pad) => pad.net)).toEqual([
      'SUPPLY',
      'GND',
      'FUSED_BATTERY',
      'FUSED_CAR',
    ]);
  });

  test('has four holes for M3, and no copper under the heads of their screws', () => {
    const holes = lands.filter((land) => land.what.startsWith('H'));
    expect(holes.map((land) => land.half)).toEqual([1.6, 1.6, 1.6, 1.6]);
    // A head of ISO 7380 is 5.7 mm across: 1.25 mm beyond the hole.
    for (const one of holes)
      expect(
        Math.min(...copper.filter((other) => !holes.includes(other)).map((other) => apart(one, other))),
      ).toBeGreaterThan(1.25);
  });

  test('its tracks and vias join all pads of a net', () => {
    for (const net of nets.values()) {
      const own = copper.filter((one) => one.net === net);
      if (own.length === 0) continue;
      const seen = new Set([own.find((one) => one.what !== 'track' && one.what !== 'via')!]);
      for (const one of seen)
        for (const other of own) if (!seen.has(other) && apart(one, other) < 1e-6) seen.add(other);
      const lost = own.filter((one) => !seen.has(one)).map((one) => `${net} ${one.what}`);
      expect(lost).toEqual([]);
    }
  });

  test('copper of two nets is 0.15 mm apart or more, pads taken with round ends', () => {
    const near = copper.flatMap((a, i) =>
      copper.slice(i + 1).flatMap((b) => (a.net !== b.net && apart(a, b) < 0.15 - 1e-6 ? [`${a.net} ${b.net}`] : [])),
    );
    expect(near).toEqual([]);
  });

  test('8 mm between the computer and the car are free of copper', () => {
    const isComputers = (net: string) => /^(USB|UD)_/.test(net);
    const [right, left] = [true, false].map((side) =>
      copper.filter((one) => isComputers(one.net) === side && !one.net.startsWith('open')),
    );
    const edge = (one: Copper, sign: 1 | -1) => sign * Math.max(sign * one.from[0], sign * one.to[0]) + sign * one.half;
    expect(
      Math.min(...right!.map((one) => edge(one, -1))) - Math.max(...left!.map((one) => edge(one, 1))),
    ).toBeGreaterThanOrEqual(8 - 1e-6);
    expect(right!.length).toBeGreaterThan(40);
  });

  test('every net without an area of its own carries what may flow before anything ends it, 20 K warmer', () => {
    const areas = new Set([...text.matchAll(/\(zone \(net \d+\) \(net_name "(.*?)"\)/g)].map(([, net]) => net!));
    expect([...areas]).toEqual(['GND', 'USB_GND', 'USB_5V']);
    const weak = BOARD.nets
      .filter(({ name }) => !areas.has(name))
      .flatMap((net) => {
        const limit = net.limitedBy;
        const fuse_A = (ref: string) => FUSE_HOLDS_TIMES * BOARD.parts.find((part) => part.ref === ref)!.value!;
        const most_A = 'current_A' in limit ? limit.current_A : limit.fuses.reduce((sum, ref) => sum + fuse_A(ref), 0);
        const narrow = tracks.filter((track) => track.net === net.name && carriedBy_A(2 * track.half, 20) < most_A);
        return narrow.map((track) => `${net.name}: ${(2 * track.half).toFixed(2)} mm for ${most_A.toFixed(2)} A`);
      });
    expect(weak).toEqual([]);
  });
});

describe('the router', () => {
  const rules: Rules = {
    width: 20,
    height: 10,
    gap: { from: 100, to: 101 },
    grid: 0.25,
    track: 0.3,
    clearance: 0.15,
    via: 0.7,
    edge: 0.5,
  };
  const pad = (ref: string, net: string | null, x: number, y: number, more: Partial<PlacedPad> = {}): PlacedPad => ({
    ref,
    number: '1',
    net,
    x,
    y,
    w: 1,
    h: 1,
    isThrough: false,
    ...more,
  });

  test('goes straight where nothing is in the way', () => {
    const { tracks: found, vias: none, failed } = route(rules, [pad('A', 'n', 2, 5), pad('B', 'n', 18, 5)], ['n']);
    expect({ none, failed }).toEqual({ none: [], failed: [] });
    expect(found.map(({ from, to, layer }) => ({ from, to, layer }))).toEqual([
      { from: [2, 5], to: [18, 5], layer: 0 },
    ]);
  });

  test('dives under a wall on the front, and gives up before one on both layers', () => {
    const ends = [pad('A', 'n', 2, 5), pad('B', 'n', 18, 5)];
    const wall = pad('W', null, 10, 5, { w: 1, h: 10 });
    const dived = route(rules, [...ends, wall], ['n']);
    expect(dived.failed).toEqual([]);
    expect(dived.vias).toHaveLength(2);
    expect(dived.tracks.some((track) => track.layer === 1 && track.from[0] < 9 && track.to[0] > 11)).toBe(true);
    expect(route(rules, [...ends, { ...wall, isThrough: true }], ['n']).failed).toEqual(['n']);
    expect(route({ ...rules, gap: { from: 9, to: 11 } }, ends, ['n']).failed).toEqual(['n']);
  });

  test('a net that finds no way goes first in the next try', () => {
    // Two pads of b in a cul-de-sac that a, routed first, walls up when it goes the short way.
    const box = [
      pad('L', null, 6, 3.5, { w: 0.5, h: 7, isThrough: true }),
      pad('R', null, 14, 3.5, { w: 0.5, h: 7, isThrough: true }),
    ];
    const two = [
      pad('A1', 'a', 2, 8.5),
      pad('A2', 'a', 18, 8.5),
      pad('B1', 'b', 10, 2),
      pad('B2', 'b', 10, 9.3, { h: 0.4 }),
    ];
    expect(route(rules, [...box, ...two], ['a', 'b'], 1).failed).toEqual(['b']);
    expect(route(rules, [...box, ...two], ['a', 'b']).failed).toEqual([]);
  });

  test('lines that cross, meet and run beside each other', () => {
    expect(lineToLine([0, 0], [2, 2], [0, 2], [2, 0])).toBe(0);
    expect(lineToLine([0, 0], [1, 0], [1, 0], [1, 5])).toBe(0);
    expect(lineToLine([0, 0], [4, 0], [1, 3], [9, 3])).toBe(3);
    expect(lineToLine([0, 0], [1, 0], [4, 4], [4, 9])).toBe(5);
  });
});
