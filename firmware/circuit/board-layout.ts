// The board as a KiCad board file (format of version 8): outline, parts, tracks, two ground areas, and the rules
// that KiCad's own check holds it to. Everything comes from board.ts, footprints.ts and placement.ts.
import { createHash } from 'node:crypto';
import { BOARD } from './board.ts';
import { ISOLATION_MM } from './copper.ts';
import { padsOf } from './footprints.ts';
import type { Pad } from './footprints.ts';
import { labelsOf } from './labels.ts';
import { GAP, HOLE, HOLES, SIZE, WIRES, WIRE_PAD, isOutside, placeOf, placedPads } from './placement.ts';
import type { PlacedPad } from './placement.ts';
import { route } from './router.ts';
import type { Routed, Rules, Track } from './router.ts';
import { OPEN, valueOf } from './shape.ts';
import { widened } from './widening.ts';

/** 0.3 mm bear what F2 and F3 hold together (copper.ts); 0.15 mm is between the pads of U1. */
const RULES: Rules = {
  width: SIZE.width,
  height: SIZE.height,
  gap: GAP,
  grid: 0.25,
  track: 0.3,
  clearance: 0.15,
  via: 0.7,
  edge: 0.5,
};
const VIA_DRILL = 0.35;
/** Where the board lies on KiCad's sheet. */
const AT = 40;

/** Small nets first; ground, which goes everywhere, last. */
function netOrder(pads: readonly PlacedPad[]): string[] {
  const nets = BOARD.nets.map((net) => net.name).filter((name) => pads.some((pad) => pad.net === name));
  const span = (name: string) => {
    const own = pads.filter((pad) => pad.net === name);
    const reach = (of: (pad: PlacedPad) => number) => Math.max(...own.map(of)) - Math.min(...own.map(of));
    const last = { GND: 1000, '5V': 500 }[name] ?? 0;
    return reach((pad) => pad.x) + reach((pad) => pad.y) + last;
  };
  return nets.toSorted((a, b) => span(a) - span(b));
}

/** Every way of the board, as wide as its net asks where there is room. @throws where a net finds no way */
export function routedBoard(): Routed {
  const pads = placedPads();
  const routed = route(RULES, pads, netOrder(pads));
  if (routed.failed.length > 0) throw new Error(`no way for ${routed.failed.join(', ')}`);
  return { ...routed, tracks: widened(routed, pads, RULES, wanted_mm) };
}

/** BOARD's nets say how wide their trace is; those that come in by a lead go on as ground does. */
function wanted_mm(net: string): number {
  const { carrier } = BOARD.nets.find((one) => one.name === net)!;
  return 'trace_mm' in carrier ? carrier.trace_mm : 1;
}

const number = (value: number) => String(Number(value.toFixed(4)));
const quoted = (text: string) => `"${text.replaceAll('"', '\\"')}"`;
const uuid = (of: string) => {
  const hex = createHash('sha256').update(`nightdraw layout ${of}`).digest('hex');
  return `(uuid "${hex.slice(0, 8)}-${hex.slice(8, 12)}-4${hex.slice(13, 16)}-8${hex.slice(17, 20)}-${hex.slice(20, 32)}")`;
};
const at = (x: number, y: number, turn = 0) =>
  `(at ${number(x + AT)} ${number(y + AT)}${turn === 0 ? '' : ` ${turn}`})`;
const point = (word: string, x: number, y: number) => `(${word} ${number(x + AT)} ${number(y + AT)})`;

const LABELS = labelsOf(placedPads()).filter((label) => !HOLES.some(({ ref }) => ref === label.ref));

interface PadText extends Pad {
  net: string | null;
}

function footprint(
  ref: string,
  value: string,
  place: readonly [number, number, number],
  pads: PadText[],
  isPart: boolean,
): string {
  const [x, y, turn] = place;
  const label = LABELS.find((one) => one.ref === ref)!;
  // Places inside a part turn with it; the words stay level.
  const [dx, dy] = [label.x - x, label.y - y];
  const angle = (turn * Math.PI) / 180;
  const [cos, sin] = [Math.round(Math.cos(angle)), Math.round(Math.sin(angle))];
  const named = `(at ${number(dx * cos - dy * sin)} ${number(dx * sin + dy * cos)} 0)`;
  const text = (name: string, words: string, layer: string, place: string) =>
    `    (property "${name}" ${quoted(words)} ${place} (layer "${layer}") ${uuid(`${ref} ${name}`)} (effects (font (size 1 1) (thickness 0.15))))\n`;
  const padText = (pad: PadText, i: number) => {
    const hole = pad.drill === undefined ? '' : ` (drill ${pad.drill})`;
    const [kind, shape, layers] =
      pad.drill === undefined
        ? ['smd', 'rect', '"F.Cu" "F.Paste" "F.Mask"']
        : ['thru_hole', pad.number === '1' ? 'rect' : 'circle', '"*.Cu" "*.Mask"'];
    const net = pad.net === null ? '' : ` (net ${netNumber(pad.net)} ${quoted(pad.net)})`;
    return `    (pad "${pad.number}" ${kind} ${shape} (at ${number(pad.x)} ${number(pad.y)}${turn === 0 ? '' : ` ${turn}`}) (size ${pad.w} ${pad.h})${hole} (layers ${layers})${net} ${uuid(`${ref} pad ${pad.number} ${i}`)})\n`;
  };
  return (
    `  (footprint "${ref}" (layer "F.Cu") ${uuid(ref)} ${at(x, y, turn)}\n` +
    text('Reference', ref, 'F.SilkS', named) +
    text('Value', value, 'F.Fab', '(at 0 0 0)') +
    `    (attr ${isPart ? (pads[0]!.drill === undefined ? 'smd' : 'through_hole') : 'board_only exclude_from_pos_files exclude_from_bom'})\n` +
    pads.map(padText).join('') +
    '  )\n'
  );
}

const netNumber = (net: string) => BOARD.nets.findIndex((one) => one.name === net) + 1;

function footprints(): string {
  const parts = BOARD.parts
    .filter((part) => !isOutside(part))
    .map((part) => {
      const pads = padsOf(part).map((pad) => {
        const net = part.on[pad.number]!;
        return { ...pad, net: net === OPEN ? null : net };
      });
      return footprint(part.ref, valueOf(part), placeOf(part), pads, true);
    });
  const { size, drill } = WIRE_PAD;
  const wires = WIRES.map(({ ref, net, x, y, from }) =>
    footprint(
      ref,
      `${net}, from ${from}`,
      [x, y, 0],
      [{ number: '1', x: 0, y: 0, w: size, h: size, drill, net }],
      false,
    ),
  );
  return [...parts, ...wires, ...HOLES.map(hole)].join('');
}

/** A hole without copper; its own clearance keeps the areas from beneath the screw's head. */
const hole = ({ ref, x, y }: (typeof HOLES)[number]): string =>
  `  (footprint "${ref}" (layer "F.Cu") ${uuid(ref)} ${at(x, y)}\n` +
  `    (attr board_only exclude_from_pos_files exclude_from_bom)\n` +
  `    (pad "" np_thru_hole circle (at 0 0) (size ${HOLE.drill} ${HOLE.drill}) (drill ${HOLE.drill}) (layers "*.Cu" "*.Mask") (clearance ${(HOLE.free - HOLE.drill) / 2}) ${uuid(`${ref} hole`)})\n` +
  '  )\n';

const segment = ({ net, layer, from, to, width }: Track, i: number) =>
  `  (segment ${point('start', ...from)} ${point('end', ...to)} (width ${number(width)}) (layer "${layer === 0 ? 'F.Cu' : 'B.Cu'}") (net ${netNumber(net)}) ${uuid(`segment ${i}`)})\n`;

/** Areas of copper from corner to corner: both grounds on both layers, and USB_5V, on which a short is 5 A. */
const AREAS: readonly {
  net: string;
  layers: readonly string[];
  from: [number, number];
  to: [number, number];
}[] = [
  { net: 'GND', layers: ['F.Cu', 'B.Cu'], from: [0.5, 0.5], to: [GAP.from, SIZE.height - 0.5] },
  { net: 'USB_GND', layers: ['F.Cu', 'B.Cu'], from: [GAP.to, 0.5], to: [SIZE.width - 0.5, SIZE.height - 0.5] },
  { net: 'USB_5V', layers: ['F.Cu'], from: [GAP.to, 39.6], to: [110.2, 43.2] },
];

/** Filled by KiCad, when it plots; the tracks alone join all that it joins. */
const zone = ({ net, from, to }: (typeof AREAS)[number], layer: string, priority: number) => {
  const corners: [number, number][] = [from, [to[0], from[1]], to, [from[0], to[1]]];
  return (
    `  (zone (net ${netNumber(net)}) (net_name ${quoted(net)}) (layer "${layer}") ${uuid(`zone ${net} ${layer}`)} (hatch edge 0.5) (priority ${priority})\n` +
    '    (connect_pads (clearance 0.3)) (min_thickness 0.25) (fill (thermal_gap 0.3) (thermal_bridge_width 0.5))\n' +
    `    (polygon (pts ${corners.map(([x, y]) => point('xy', x, y)).join(' ')}))\n  )\n`
  );
};

export function kicadBoard(routed: Routed): string {
  const layers = [
    '(0 "F.Cu" signal)',
    '(31 "B.Cu" signal)',
    '(34 "B.Paste" user)',
    '(35 "F.Paste" user)',
    '(36 "B.SilkS" user "B.Silkscreen")',
    '(37 "F.SilkS" user "F.Silkscreen")',
    '(38 "B.Mask" user)',
    '(39 "F.Mask" user)',
    '(44 "Edge.Cuts" user)',
    '(45 "Margin" user)',
    '(46 "B.CrtYd" user "B.Courtyard")',
    '(47 "F.CrtYd" user "F.Courtyard")',
    '(48 "B.Fab" user)',
    '(49 "F.Fab" user)',
  ];
  const vias = routed.vias.map(
    ({ net, x, y }, i) =>
      `  (via ${at(x, y)} (size ${RULES.via}) (drill ${VIA_DRILL}) (layers "F.Cu" "B.Cu") (net ${netNumber(net)}) ${uuid(`via ${i}`)})\n`,
  );
  return (
    '(kicad_pcb (version 20240108) (generator "nightdraw") (generator_version "8.0")\n' +
    '  (general (thickness 1.6) (legacy_teardrops no))\n  (paper "A4")\n' +
    `  (layers\n${layers.map((layer) => `    ${layer}\n`).join('')}  )\n` +
    '  (setup (pad_to_mask_clearance 0) (allow_soldermask_bridges_in_footprints no))\n' +
    `  (net 0 "")\n${BOARD.nets.map(({ name }, i) => `  (net ${i + 1} ${quoted(name)})\n`).join('')}` +
    footprints() +
    `  (gr_rect ${point('start', 0, 0)} ${point('end', SIZE.width, SIZE.height)} (stroke (width 0.1) (type default)) (fill none) (layer "Edge.Cuts") ${uuid('outline')})\n` +
    routed.tracks.map(segment).join('') +
    vias.join('') +
    AREAS.flatMap((area, i) => area.layers.map((layer) => zone(area, layer, i))).join('') +
    ')\n'
  );
}

const USB = (item: 'A' | 'B') => `(${item}.NetName == 'USB_*' || ${item}.NetName == 'UD_*')`;

/** KiCad reads it beside the board. */
export const KICAD_RULES = `(version 1)
(rule "between traces" (constraint clearance (min ${RULES.clearance}mm)))
(rule "trace width" (constraint track_width (min ${RULES.track}mm)))
(rule "edge" (constraint edge_clearance (min ${RULES.edge}mm)))
(rule "computer's side" (constraint clearance (min ${ISOLATION_MM}mm))
  (condition "${USB('A')} && B.NetName != '' && !${USB('B')}"))
`;
