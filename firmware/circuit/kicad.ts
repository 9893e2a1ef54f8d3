// The circuit as a KiCad schematic: its file format of 2021-11-23, that of version 6, one sheet,
// symbols of our own inside the file. Every pin has a short wire and a label with its net's name, so
// that what is joined can be read off without following lines over the sheet. Sizes in mm.
import { createHash } from 'node:crypto';
import { OPEN, connections, valueOf } from './shape.ts';
import type { Circuit, Part, Pin, PinRole } from './shape.ts';

const GRID = 2.54;
/** A wire from each pin to its label. */
const STUB = GRID;
const HALF_WIDTH = 4 * GRID;
const COLUMN = 26 * GRID;
const SHEET = { paper: 'A3', left: 22 * GRID, top: 10 * GRID, bottom: 104 * GRID };

const TYPES: Readonly<Record<PinRole, string>> = {
  input: 'input',
  output: 'output',
  both: 'bidirectional',
  passive: 'passive',
  'supply in': 'power_in',
  'supply out': 'power_out',
  'pulls low': 'open_collector',
};

type Expression = string | number | Expression[];

/** A word that must stand in quotes. */
const quoted = (text: string) => `"${text.replaceAll('\\', '\\\\').replaceAll('"', '\\"')}"`;

function printed(expression: Expression, depth = 0): string {
  if (!Array.isArray(expression))
    return typeof expression === 'number' ? String(Number(expression.toFixed(4))) : expression;
  const flat = `(${expression.map((one) => printed(one)).join(' ')})`;
  if (flat.length + 2 * depth <= 100) return flat;
  const indent = '\n' + '  '.repeat(depth + 1);
  return `(${expression.map((one, i) => (i > 0 && Array.isArray(one) ? indent : i > 0 ? ' ' : '') + printed(one, depth + 1)).join('')})`;
}

/** The same for the same circuit, so that a file written twice is the same to the byte. */
function uuid(circuit: Circuit, of: string): string {
  const hex = createHash('sha256').update(`nightdraw ${circuit.name} ${of}`).digest('hex');
  return `${hex.slice(0, 8)}-${hex.slice(8, 12)}-4${hex.slice(13, 16)}-8${hex.slice(17, 20)}-${hex.slice(20, 32)}`;
}

interface Placed {
  part: Part;
  x: number;
  y: number;
}

const rowsOf = (part: Part) => Math.ceil(part.pins.length / 2);

/** Where a pin ends, from the middle of its symbol, y downwards: first half on the left, the rest on the right. */
function pinAt(part: Part, i: number): { x: number; y: number; isLeft: boolean } {
  const rows = rowsOf(part);
  const isLeft = i < rows;
  const row = isLeft ? i : i - rows;
  return { x: (isLeft ? -1 : 1) * (HALF_WIDTH + GRID), y: row * GRID, isLeft };
}

/** Columns from the left, each filled from the top. */
function placed(parts: readonly Part[]): Placed[] {
  let x = SHEET.left;
  let y = SHEET.top;
  return parts.map((part) => {
    const height = (rowsOf(part) + 5) * GRID;
    if (y + height > SHEET.bottom) {
      x += COLUMN;
      y = SHEET.top;
    }
    const at = { part, x, y };
    y += height;
    return at;
  });
}

const effects = (...more: Expression[]): Expression => ['effects', ['font', ['size', 1.27, 1.27]], ...more];

const property = (name: string, value: string, id: number, x: number, y: number, isHidden = false): Expression => [
  'property',
  quoted(name),
  quoted(value),
  ['id', id],
  ['at', x, y, 0],
  effects(...(isHidden ? ['hide'] : [])),
];

const pinShape = (part: Part, pin: Pin, i: number): Expression => {
  const { x, y, isLeft } = pinAt(part, i);
  const isUnconnected = pin.name === 'NC';
  return [
    'pin',
    isUnconnected ? 'no_connect' : TYPES[pin.role],
    'line',
    ['at', x, -y, isLeft ? 0 : 180],
    ['length', GRID],
    ['name', quoted(pin.name), effects()],
    ['number', quoted(pin.number), effects()],
  ];
};

/** Inside the sheet its name begins with the library's. */
function symbol(part: Part, library: 'nightdraw:' | ''): Expression {
  const name = part.ref;
  const low = (rowsOf(part) - 1) * GRID + GRID;
  return [
    'symbol',
    quoted(library + name),
    ['in_bom', 'yes'],
    ['on_board', 'yes'],
    property('Reference', part.ref.replace(/\d+$/, ''), 0, 0, 2 * GRID),
    property('Value', valueOf(part), 1, 0, -low - GRID),
    property('Footprint', '', 2, 0, 0, true),
    property('Datasheet', '~', 3, 0, 0, true),
    [
      'symbol',
      quoted(`${name}_0_1`),
      [
        'rectangle',
        ['start', -HALF_WIDTH, GRID],
        ['end', HALF_WIDTH, -low],
        ['stroke', ['width', 0.254], ['type', 'default'], ['color', 0, 0, 0, 0]],
        ['fill', ['type', 'background']],
      ],
    ],
    ['symbol', quoted(`${name}_1_1`), ...part.pins.map((pin, i) => pinShape(part, pin, i))],
  ];
}

/** Tells the rule check that a net is fed by something that is no output of a chip. */
const FLAG: Part = {
  ref: '#FLG',
  kind: 'terminal',
  type: 'fed from outside',
  ratings: {},
  package: '',
  why: '',
  pins: [{ number: '1', name: 'fed', role: 'supply out' }],
  on: {},
};

function withFlags(circuit: Circuit): Part[] {
  const fed = circuit.nets.filter(({ name }) => {
    const roles = connections(circuit, name).map(({ pin }) => pin.role);
    return roles.includes('supply in') && !roles.includes('supply out');
  });
  return [...circuit.parts, ...fed.map(({ name }, i) => ({ ...FLAG, ref: `#FLG${i + 1}`, on: { '1': name } }))];
}

function instance(circuit: Circuit, { part, x, y }: Placed): Expression {
  const below = y + (rowsOf(part) + 1) * GRID;
  return [
    'symbol',
    ['lib_id', quoted(`nightdraw:${part.ref}`)],
    ['at', x, y, 0],
    ['unit', 1],
    ['in_bom', part.ref.startsWith('#') ? 'no' : 'yes'],
    ['on_board', part.ref.startsWith('#') ? 'no' : 'yes'],
    ['uuid', uuid(circuit, part.ref)],
    property('Reference', part.ref, 0, x, y - 2 * GRID),
    property('Value', valueOf(part), 1, x, below),
    property('Footprint', '', 2, x, y, true),
    property('Datasheet', '~', 3, x, y, true),
    ...part.pins.map((pin): Expression => [
      'pin',
      quoted(pin.number),
      ['uuid', uuid(circuit, `${part.ref}.${pin.number}`)],
    ]),
  ];
}

/** What is drawn at each pin: a wire and its net's name, or the cross of a pin that stays open. */
function ends(circuit: Circuit, { part, x, y }: Placed): Expression[] {
  return part.pins.flatMap((pin, i): Expression[] => {
    if (pin.name === 'NC') return [];
    const at = pinAt(part, i);
    const of = `${part.ref}.${pin.number}`;
    const [px, py] = [x + at.x, y + at.y];
    const net = part.on[pin.number]!;
    if (net === OPEN) return [['no_connect', ['at', px, py], ['uuid', uuid(circuit, `${of} open`)]]];
    const lx = px + (at.isLeft ? -STUB : STUB);
    return [
      [
        'wire',
        ['pts', ['xy', px, py], ['xy', lx, py]],
        ['stroke', ['width', 0], ['type', 'default'], ['color', 0, 0, 0, 0]],
        ['uuid', uuid(circuit, `${of} wire`)],
      ],
      [
        'label',
        quoted(net),
        ['at', lx, py, at.isLeft ? 180 : 0],
        effects(['justify', at.isLeft ? 'right' : 'left', 'bottom']),
        ['uuid', uuid(circuit, `${of} label`)],
      ],
    ];
  });
}

/** The whole file. */
export function kicadSchematic(circuit: Circuit, title: string): string {
  const parts = placed(withFlags(circuit));
  const file: Expression = [
    'kicad_sch',
    ['version', 20211123],
    ['generator', 'nightdraw'],
    ['uuid', uuid(circuit, 'sheet')],
    ['paper', quoted(SHEET.paper)],
    [
      'title_block',
      ['title', quoted(title)],
      ['comment', 1, quoted('Made by firmware/circuit/make.ts; changes belong into board.ts')],
    ],
    ['lib_symbols', ...parts.map(({ part }) => symbol(part, 'nightdraw:'))],
    ...parts.flatMap((one) => ends(circuit, one)),
    ...parts.map((one) => instance(circuit, one)),
    ['sheet_instances', ['path', quoted('/'), ['page', quoted('1')]]],
    [
      'symbol_instances',
      ...parts.map(({ part }): Expression => [
        'path',
        quoted(`/${uuid(circuit, part.ref)}`),
        ['reference', quoted(part.ref)],
        ['unit', 1],
        ['value', quoted(valueOf(part))],
        ['footprint', quoted('')],
      ]),
    ],
  ];
  return printed(file) + '\n';
}

/** The same symbols as a library, so that KiCad finds what the sheet names. */
export function kicadLibrary(circuit: Circuit): string {
  const symbols = withFlags(circuit).map((part) => symbol(part, ''));
  return printed(['kicad_symbol_lib', ['version', 20211014], ['generator', 'nightdraw'], ...symbols]) + '\n';
}

/** Which KiCad reads beside the sheet: where the library is. */
export const KICAD_TABLE = `(sym_lib_table
  (lib (name "nightdraw") (type "KiCad") (uri "\${KIPRJMOD}/nightdraw.kicad_sym") (options "") (descr ""))
)
`;
