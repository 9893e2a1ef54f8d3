// Where things stand in drawing 3: boxes with their pins, and the routes between them, laid out by
// hand. Whether it is what the circuit joins is checked in modules-drawing.ts.

export type Point = readonly [x: number, y: number];

export interface Box {
  ref: string;
  at: Point;
  size: Point;
  fill: string;
  /** Lines of text inside; `{}` stands for the part and its value. */
  text: readonly string[];
  pins: Readonly<Record<string, Point>>;
}

export interface Route {
  net: string;
  points: readonly Point[];
}

const FUSE = '#ffffff';
const CHIP = '#e4eef7';

/** A part of two pins upright: 1 above, 2 below. */
const upright = (ref: string, x: number, y: number, isBelow1 = true): Box => ({
  ref,
  at: [x - 10, y],
  size: [20, 28],
  fill: FUSE,
  text: [],
  pins: isBelow1 ? { '1': [x, y], '2': [x, y + 28] } : { '2': [x, y], '1': [x, y + 28] },
});
const lying = (ref: string, x: number, y: number): Box => ({
  ref,
  at: [x, y - 12],
  size: [40, 24],
  fill: FUSE,
  text: [],
  pins: { '1': [x, y], '2': [x + 40, y] },
});

export const BOXES: readonly Box[] = [
  { ref: 'X1', at: [66, 51], size: [18, 18], fill: '#b3402e', text: [], pins: { '1': [75, 51] } },
  { ref: 'X2', at: [166, 51], size: [18, 18], fill: '#2e5f8a', text: [], pins: { '1': [184, 60], '2': [175, 69] } },
  {
    ref: 'X3',
    at: [800, 30],
    size: [140, 60],
    fill: '#eef1f4',
    text: ['negative cable', 'of the car'],
    pins: { '1': [800, 60] },
  },
  lying('F4', 300, 60),
  {
    ref: 'R1',
    at: [420, 42],
    size: [200, 36],
    fill: '#d9c7a3',
    text: ['{}'],
    pins: { '1': [420, 60], '2': [620, 60], '3': [470, 78], '4': [570, 78] },
  },
  upright('F3', 470, 108),
  upright('F2', 570, 108),
  upright('R6', 470, 166),
  upright('R5', 570, 166),
  { ref: 'D2', at: [505, 208], size: [30, 18], fill: FUSE, text: [], pins: { '1': [505, 217], '2': [535, 217] } },
  { ref: 'D3', at: [505, 234], size: [30, 18], fill: FUSE, text: [], pins: { '2': [505, 243], '1': [535, 243] } },
  { ref: 'D7', at: [405, 260], size: [30, 18], fill: FUSE, text: [], pins: { '2': [405, 269], '1': [435, 269] } },
  { ref: 'D6', at: [605, 260], size: [30, 18], fill: FUSE, text: [], pins: { '1': [605, 269], '2': [635, 269] } },
  upright('R16', 470, 312),
  upright('R15', 570, 312),
  { ref: 'C1', at: [505, 364], size: [30, 18], fill: FUSE, text: [], pins: { '2': [505, 373], '1': [535, 373] } },
  lying('R14', 150, 450),
  upright('D5', 195, 480),
  upright('C16', 225, 480),
  lying('F1', 60, 450),
  lying('F5', 230, 210),
  {
    ref: 'M1',
    at: [430, 410],
    size: [180, 110],
    fill: CHIP,
    text: ['M1', 'module with an INA228', 'its own shunt taken off'],
    pins: {
      '8': [470, 410],
      '7': [570, 410],
      '6': [430, 450],
      '4': [610, 435],
      '3': [610, 460],
      '5': [610, 485],
      '1': [560, 520],
      '2': [480, 520],
    },
  },
  {
    ref: 'M2',
    at: [710, 410],
    size: [200, 170],
    fill: CHIP,
    text: ['M2', 'module with an', 'ATmega328P', 'no capacitor from', 'DTR to RESET'],
    pins: {
      '3': [710, 435],
      '4': [710, 460],
      '5': [710, 485],
      '1': [710, 535],
      '2': [710, 560],
      '6': [800, 410],
      '7': [910, 535],
      '8': [910, 560],
    },
  },
  {
    ref: 'M3',
    at: [710, 190],
    size: [200, 56],
    fill: '#f5e6d3',
    text: ['M3 USB isolator', 'with an ADuM3160'],
    pins: { '1': [800, 190], '2': [800, 246] },
  },
  { ref: 'X4', at: [740, 116], size: [120, 34], fill: '#eef1f4', text: ['computer'], pins: { '1': [800, 150] } },
];

/** Said on a line instead of drawn. */
export const SAID_ON_A_LINE: readonly string[] = ['R2', 'R3', 'R4'];

export const ROUTES: readonly Route[] = [
  {
    net: 'BATTERY_PLUS',
    points: [
      [75, 51],
      [75, 30],
      [20, 30],
      [20, 450],
      [60, 450],
    ],
  },
  {
    net: 'SUPPLY',
    points: [
      [100, 450],
      [150, 450],
    ],
  },
  {
    net: 'BATTERY_MINUS',
    points: [
      [184, 60],
      [300, 60],
    ],
  },
  {
    net: 'SHUNT_BATTERY',
    points: [
      [340, 60],
      [420, 60],
    ],
  },
  {
    net: 'CAR',
    points: [
      [620, 60],
      [800, 60],
    ],
  },
  {
    net: 'GROUND_LEAD',
    points: [
      [175, 69],
      [175, 210],
      [230, 210],
    ],
  },
  {
    net: 'GND',
    points: [
      [270, 210],
      [300, 210],
      [300, 560],
      [710, 560],
    ],
  },
  {
    net: 'GND',
    points: [
      [480, 520],
      [480, 560],
    ],
  },
  {
    net: 'SENSE_BATTERY',
    points: [
      [470, 78],
      [470, 108],
    ],
  },
  {
    net: 'SENSE_CAR',
    points: [
      [570, 78],
      [570, 108],
    ],
  },
  {
    net: 'FUSED_BATTERY',
    points: [
      [470, 136],
      [470, 166],
    ],
  },
  {
    net: 'FUSED_CAR',
    points: [
      [570, 136],
      [570, 166],
    ],
  },
  {
    net: 'VBUS',
    points: [
      [190, 450],
      [430, 450],
    ],
  },
  ...[195, 225].flatMap((x): Route[] => [
    {
      net: 'VBUS',
      points: [
        [x, 450],
        [x, 480],
      ],
    },
    {
      net: 'GND',
      points: [
        [x, 508],
        [x, 560],
        [300, 560],
      ],
    },
  ]),
  {
    net: 'CLAMPED_BATTERY',
    points: [
      [470, 194],
      [470, 312],
    ],
  },
  {
    net: 'CLAMPED_CAR',
    points: [
      [570, 194],
      [570, 312],
    ],
  },
  ...[217, 243].flatMap((y): Route[] => [
    {
      net: 'CLAMPED_BATTERY',
      points: [
        [470, y],
        [505, y],
      ],
    },
    {
      net: 'CLAMPED_CAR',
      points: [
        [535, y],
        [570, y],
      ],
    },
  ]),
  {
    net: 'CLAMPED_BATTERY',
    points: [
      [470, 269],
      [435, 269],
    ],
  },
  {
    net: 'CLAMPED_CAR',
    points: [
      [570, 269],
      [605, 269],
    ],
  },
  {
    net: 'GND',
    points: [
      [405, 269],
      [300, 269],
    ],
  },
  {
    net: 'GND',
    points: [
      [635, 269],
      [650, 269],
      [650, 290],
      [300, 290],
    ],
  },
  {
    net: 'IN_MINUS',
    points: [
      [470, 340],
      [470, 410],
    ],
  },
  {
    net: 'IN_PLUS',
    points: [
      [570, 340],
      [570, 410],
    ],
  },
  {
    net: 'IN_MINUS',
    points: [
      [470, 373],
      [505, 373],
    ],
  },
  {
    net: 'IN_PLUS',
    points: [
      [535, 373],
      [570, 373],
    ],
  },
  {
    net: 'SDA',
    points: [
      [610, 435],
      [710, 435],
    ],
  },
  {
    net: 'SCL',
    points: [
      [610, 460],
      [710, 460],
    ],
  },
  {
    net: 'ALERT',
    points: [
      [610, 485],
      [710, 485],
    ],
  },
  {
    net: '5V',
    points: [
      [560, 520],
      [560, 535],
      [710, 535],
    ],
  },
  {
    net: 'CABLE',
    points: [
      [800, 410],
      [800, 246],
    ],
  },
  {
    net: 'USB_CABLE',
    points: [
      [800, 190],
      [800, 150],
    ],
  },
];
