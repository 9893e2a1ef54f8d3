// What is fed with bytes from outside: each takes any bytes, and may only answer, or throw an
// Error in words; anything else is a mistake of ours.
import { readFileSync } from 'node:fs';
import { csvText } from '../../../host/bay/tree/csv-text.ts';
import { readTree } from '../../../host/bay/tree/tree-build.ts';
import { readWorkshop, SETTINGS } from '../../../host/contract/settings.ts';
import {
  blockCrc,
  decodePoints,
  decodeVoltage,
  decodeWindows,
  encodePoints,
  encodeVoltage,
  encodeWindows,
  newVoltageColumns,
  newWindowColumns,
} from '../../../host/capture/format/blocks.ts';
import { CsvRows } from '../../../host/capture/exchange/csv-rows.ts';
import { decodeRaw, encodeRaw, newRawColumns } from '../../../host/capture/format/raw-blocks.ts';
import { checkCode } from '../../../host/link/crc32.ts';
import { parseLine } from '../../../host/link/lines.ts';
import { NOTICE_KEYS, readNotices } from '../../../host/notify/settings.ts';

export interface Target {
  run: (bytes: Buffer) => void;
  seeds: Buffer[];
  /** Words that it knows, put in here and there. */
  words: string[];
}

/** The most readings that the count of a fuzzed block claims. */
const COUNT_MOST = 4096;

const text = (...lines: string[]) => Buffer.from(lines.join('\n'));
const framed = (kind: number, count: number, data: Uint8Array) =>
  Buffer.concat([Uint8Array.of(kind, count & 0xff, count >> 8), data]);

const windows = Array.from({ length: 300 }, (_, i) => ({
  kind: 'window' as const,
  seq: i,
  t_us: (i + 1) * 50_000,
  dur_us: 50_000,
  count: 47,
  mean_uA: 20_000 + (i % 9) * 70,
  min_uA: 19_000,
  max_uA: 23_000 + i,
  charge_nC: i * 1e6,
  flags: i % 50 === 0 ? 2 : 0,
}));
const voltages = Array.from({ length: 60 }, (_, i) => ({
  kind: 'voltage' as const,
  seq: i,
  t_us: i * 1e6,
  bus_mV: 12_600 - i,
  temp_mC: i % 7 === 0 ? NaN : 21_000,
  dropped: 0,
}));
const lines = Array.from({ length: 20 }, (_, n) => ({
  kind: 'raw' as const,
  seq: n,
  t_us: (n + 1) * 12_600,
  samples: Array.from({ length: 12 }, (__, k) => ({
    t_us: n * 12_600 + (k + 1) * 1050,
    units: (n * 12 + k) * 7,
    flags: k === 0 ? 8 : 0,
  })),
}));
const points = {
  t_s: Float64Array.from({ length: 200 }, (_, i) => i * 0.5),
  current_mA: Float64Array.from({ length: 200 }, (_, i) => 20 + (i % 11)),
  min_mA: null,
  max_mA: null,
  voltage_V: Float64Array.from({ length: 200 }, () => 12.5),
};

/** Kind, count and the block's bytes; its check value is made to fit, or nothing behind it would be reached. */
function decodeAny(bytes: Buffer): void {
  if (bytes.length < 3) return;
  const count = bytes.readUInt16LE(1) % (COUNT_MOST + 1),
    data = bytes.subarray(3),
    crc = blockCrc(data);
  switch (bytes[0]! % 4) {
    case 0:
      return decodeWindows(data, crc, count, newWindowColumns(count), 0);
    case 1:
      return decodeVoltage(data, crc, count, newVoltageColumns(count), 0);
    case 2:
      return decodePoints(
        data,
        crc,
        count,
        {
          t_s: new Float64Array(count),
          current_mA: new Float64Array(count),
          min_mA: null,
          max_mA: null,
          voltage_V: null,
        },
        0,
      );
    default:
      decodeRaw(data, crc, count, newRawColumns(count));
  }
}

/** As it is, and with a check code that fits, or nothing behind it would be reached. */
function parseChecked(bytes: Buffer): void {
  parseLine(bytes.toString('latin1'));
  const body = `${bytes.toString('latin1').replace(/[^\x20-\x7e]/g, '')} `;
  parseLine(body + checkCode(body));
}

function readCsv(bytes: Buffer): void {
  const rows = new CsvRows(
    'x.csv',
    () => undefined,
    () => 60,
  );
  // In pieces, as a stream brings it.
  for (let at = 0; at < bytes.length; at += 777) rows.feed(bytes.subarray(at, at + 777));
  rows.end();
}

export const TARGETS: Record<string, Target> = {
  blocks: {
    run: decodeAny,
    words: [
      '\u0000\u0000\u0000\u0000',
      '\u00ff\u00ff\u00ff\u00ff',
      '\u0080\u0080\u0080\u0080\u0080\u0080\u0080\u0080\u0080\u0001',
    ],
    seeds: [
      framed(0, 300, encodeWindows(windows)),
      framed(1, 60, encodeVoltage(voltages)),
      framed(2, 200, encodePoints(points)),
      framed(3, 240, encodeRaw(lines)),
    ],
  },
  csv: {
    run: readCsv,
    words: [
      't_s',
      'time',
      'current_mA',
      'current',
      'voltage',
      'min_mA',
      'max_mA',
      ';',
      ',',
      '\t',
      '"',
      '\r\n',
      '1e300',
      '-0',
      '.',
      'T',
      'Z',
      '2031-05-04T22:15:00.250Z',
      '+02:00',
      'nan',
      '\ufeff',
      '(A)',
      '[ms]',
    ],
    seeds: [
      text('t_s,current_mA', '0,20', '1,21.5', '2,-3e2'),
      text('time;current_A;voltage_V', '2031-05-04T22:15:00Z;0,5;12,6', '2031-05-04T22:15:01Z;0,6;'),
      text('meter x', '"t_s","min_mA","current_mA","max_mA"', '"0","1","2","3"', '1,2,3,4'),
    ],
  },
  lines: {
    run: parseChecked,
    words: ['W', 'V', 'S', 'H', 'L', 'R', 'A', 'E', ' ', '-', '0', 'FFFFFFFF', '7FFFFFFF', '=', ','],
    // The lines that firmware and host are both held against, without their check codes.
    seeds: readFileSync(new URL('../firmware/line-vectors.txt', import.meta.url), 'utf8')
      .split('\n')
      .filter((line) => / [0-9A-F]{8}$/.test(line))
      .map((line) => Buffer.from(line.slice(0, -9))),
  },
  tree: {
    run: (bytes) => void readTree(csvText(bytes)),
    words: [
      'box',
      'position',
      'rating',
      'type',
      'feeds',
      ',',
      ';',
      '"',
      'relay',
      'bolted',
      'miniature',
      'regular',
      'F1',
      'F2',
      '\n',
      '+',
      '10',
      '?',
    ],
    seeds: [
      text(
        'box,position,rating,type,feeds',
        'dash,F1,10,miniature,F2',
        'dash,F2,5,miniature,radio',
        'dash,F3,30,regular,"a; b; c"',
      ),
      text('box;position;rating;type;feeds', 'boot;R1;30;relay;T1', 'boot;T1;7,5;miniature;lamp'),
    ],
  },
  settings: {
    run: (bytes) => {
      let value: unknown;
      try {
        value = JSON.parse(bytes.toString('utf8'));
      } catch {
        return;
      }
      readWorkshop(value, NOTICE_KEYS);
      readNotices(value as Record<string, unknown>, 11.9);
    },
    words: [
      'allowance_mA',
      'battery_type',
      'capacity_Ah',
      'notify_url',
      'notify_below_V',
      'notify_desktop',
      'reserve',
      '"',
      ':',
      '{',
      '}',
      '[',
      ']',
      'null',
      '1e999',
      '-1',
      'true',
      'http://',
      '__proto__',
    ],
    seeds: [
      text('{"allowance_mA": 40}'),
      text('{"notify_url": "http://127.0.0.1/x", "notify_below_V": 11.8}'),
      text('{"workshop_name": "x", "allowance_mA": "reserve"}'),
      ...SETTINGS.map(({ key }) => text(`{"${key}": 1}`)),
      ...SETTINGS.map(({ key }) => text(`{"${key}": "x"}`)),
    ],
  },
};

/** What only a mistake of ours throws, for whatever bytes. */
export const isOurs = (error: unknown): boolean =>
  !(error instanceof Error) ||
  error instanceof TypeError ||
  error instanceof ReferenceError ||
  error instanceof SyntaxError ||
  error.message === '';
