// Drawing 3, the second way, drawn from modules-layout.ts and held against the circuit: `drawnWrong`
// finds a route that joins what the circuit does not, or leaves a pin out.
import { BOXES, ROUTES, SAID_ON_A_LINE } from './modules-layout.ts';
import type { Box, Point, Route } from './modules-layout.ts';
import { MODULES_CIRCUIT } from './modules.ts';
import { OPEN, valueOf } from './shape.ts';
import type { Circuit } from './shape.ts';

/** Whether a point lies on an upright or lying stretch. */
const isOn = ([x, y]: Point, [[ax, ay], [bx, by]]: readonly [Point, Point]) =>
  ax === bx
    ? x === ax && y >= Math.min(ay, by) && y <= Math.max(ay, by)
    : y === ay && x >= Math.min(ax, bx) && x <= Math.max(ax, bx);

const stretches = ({ points }: Route) => points.slice(1).map((to, i) => [points[i]!, to] as const);
const passes = (route: Route, point: Point) => stretches(route).some((stretch) => isOn(point, stretch));
const meet = (a: Route, b: Route) => a.points.some((p) => passes(b, p)) || b.points.some((p) => passes(a, p));

/** What the drawing joins that the circuit does not, or leaves out; one sentence each. */
export function drawnWrong(circuit: Circuit, boxes = BOXES, routes = ROUTES): string[] {
  const bad: string[] = [];
  const drawn = new Set([...boxes.map((box) => box.ref), ...SAID_ON_A_LINE]);
  for (const { ref } of circuit.parts) if (!drawn.has(ref)) bad.push(`${ref} is not drawn`);
  for (const [i, a] of routes.entries())
    for (const b of routes.slice(i + 1)) if (a.net !== b.net && meet(a, b)) bad.push(`${a.net} meets ${b.net}`);
  for (const box of boxes) {
    const part = circuit.parts.find((one) => one.ref === box.ref);
    if (part === undefined) bad.push(`${box.ref} is drawn and not there`);
    for (const pin of part?.pins ?? []) {
      const point = box.pins[pin.number];
      const net = part!.on[pin.number]!;
      const on = point === undefined ? [] : routes.filter((route) => passes(route, point)).map((route) => route.net);
      if (point === undefined) bad.push(`${box.ref}.${pin.number} is not drawn`);
      else if (net === OPEN && on.length > 0) bad.push(`${box.ref}.${pin.number} is open, and drawn on ${on[0]}`);
      else if (net !== OPEN && on.length === 0) bad.push(`${box.ref}.${pin.number} has no line to ${net}`);
      else if (on.some((name) => name !== net))
        bad.push(`${box.ref}.${pin.number} is on ${net}, and drawn on ${on.join(', ')}`);
    }
  }
  for (const net of new Set(routes.map((route) => route.net))) {
    const own = routes.filter((route) => route.net === net);
    const seen = new Set([own[0]!]);
    for (const one of seen) for (const other of own) if (meet(one, other)) seen.add(other);
    if (seen.size < own.length) bad.push(`${net} is drawn in pieces`);
  }
  return bad;
}

const INK = '#1d2733';
function line({ net, points }: Route): string {
  const path = points.map(([x, y], i) => `${i === 0 ? 'M' : 'L'}${x} ${y}`).join(' ');
  const [colour, width] = /^(BATTERY_MINUS|SHUNT|CAR$)/.test(net)
    ? [INK, 7]
    : /^(SENSE|FUSED|CLAMPED|IN_)/.test(net)
      ? ['#2e7d4f', 2.5]
      : /^(GND|GROUND)/.test(net)
        ? ['#2e5f8a', 2.5]
        : /^(BATTERY_PLUS|SUPPLY|VBUS|5V)/.test(net)
          ? ['#b3402e', 2.5]
          : [INK, 2];
  return `  <path d="${path}" fill="none" stroke="${colour}" stroke-width="${width}"/>\n`;
}

const said = (ref: string) => {
  const part = MODULES_CIRCUIT.parts.find((one) => one.ref === ref)!;
  return `${ref} ${valueOf(part)}`;
};

function box({ ref, at: [x, y], size: [w, h], fill, text }: Box): string {
  const top = y + h / 2 + 5 - ((text.length - 1) * 18) / 2;
  const words = text.map(
    (words, i) =>
      `  <text x="${x + w / 2}" y="${top + 18 * i}" text-anchor="middle">${words.replace('{}', said(ref))}</text>\n`,
  );
  return `  <rect x="${x}" y="${y}" width="${w}" height="${h}" rx="3" fill="${fill}" stroke="${INK}" stroke-width="2"/>\n${words.join('')}`;
}

const note = (x: number, y: number, words: string, anchor = 'start', size = 14) =>
  `  <text x="${x}" y="${y}" text-anchor="${anchor}" font-size="${size}">${words}</text>\n`;

/** What stands beside boxes and lines. */
function notes(): string[] {
  return [
    note(92, 44, 'plus'),
    note(190, 46, 'minus'),
    note(110, 130, 'battery 12 V', 'middle'),
    note(320, 92, said('F4'), 'middle'),
    note(452, 127, said('F3'), 'end'),
    note(588, 127, said('F2')),
    note(452, 185, said('R6'), 'end'),
    note(588, 185, said('R5')),
    note(588, 378, said('C1')),
    note(588, 222, `${said('D2')}, K left`, 'start', 12),
    note(588, 248, `${said('D3')}, K right`, 'start', 12),
    note(308, 253, `${said('D7')}, K right`, 'start', 11),
    note(658, 274, `${said('D6')}, K left`),
    note(452, 331, said('R16'), 'end'),
    note(588, 331, said('R15')),
    note(170, 432, said('R14'), 'middle', 12),
    note(181, 500, `${said('D5')}, K above`, 'end', 12),
    note(238, 500, said('C16'), 'start', 10),
    note(30, 432, said('F1')),
    note(250, 242, said('F5'), 'middle'),
    note(410, 34, 'battery side', 'end'),
    note(640, 96, 'car side'),
    note(660, 430, `SDA, ${said('R2')}`, 'middle', 11),
    note(660, 455, `SCL, ${said('R3')}`, 'middle', 11),
    note(660, 480, `ALERT, ${said('R4')}`, 'middle', 11),
    note(640, 530, '5 V', 'middle', 12),
    note(640, 554, 'ground', 'middle', 12),
    note(470, 426, 'IN−', 'middle', 12),
    note(570, 426, 'IN+', 'middle', 12),
    note(436, 446, 'VBUS', 'start', 12),
    note(716, 440, 'PC4', 'start', 11),
    note(716, 465, 'PC5', 'start', 11),
    note(716, 490, 'PD2', 'start', 11),
    note(716, 540, '5V', 'start', 11),
    note(716, 565, 'GND', 'start', 11),
    note(
      40,
      610,
      'Thick: the current of the car, 6 mm². Green: the two sense wires. R2 to R4 go from their line to 5 V.',
      'start',
      13,
    ),
    note(
      40,
      630,
      'The 5 V come from the computer through M3: with the USB cable out, nothing is measured.',
      'start',
      13,
    ),
  ];
}

export function drawModules(): string {
  return `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 980 650" font-family="sans-serif" font-size="14" fill="${INK}">
  <title>Drawing 3: the second way, with ready-made modules, a USB isolator and an outside shunt</title>
  <rect width="980" height="650" fill="#ffffff"/>
  <rect x="40" y="60" width="155" height="110" rx="4" fill="#eef1f4" stroke="${INK}" stroke-width="2"/>
  <path d="M175 51 V14 H870 V30" fill="none" stroke="#8a5a00" stroke-width="4" stroke-dasharray="12 8"/>
  <text x="612" y="33" text-anchor="middle" fill="#8a5a00">bridge: on first, off last; open only while recording</text>
${ROUTES.map(line).join('')}${BOXES.map(box).join('')}${notes().join('')}</svg>
`;
}
