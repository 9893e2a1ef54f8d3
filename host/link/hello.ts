// Reads a hello line: rare, so it may be written for the reader rather than for speed.

import type { ChipLimits, Hello } from '../contract/capture.ts';

/** Version of firmware/PROTOCOL.md that this host knows. */
export const PROTO = 1;

const WORD = /^[a-z0-9.-]+$/;
const NUMBER = /^(0|-?[1-9a-f][0-9a-f]{0,12})$/;

/** Keys in their order, each a word or the smallest and largest number allowed. */
const KEYS: [keyof Hello, 'word' | [number, number]][] = [
  ['proto', [0, 0xffff]],
  ['fw', 'word'],
  ['mcu', 'word'],
  ['sensor', 'word'],
  ['id', [0, 2 ** 32 - 1]],
  ['boot', [0, 2 ** 32 - 1]],
  ['cause', 'word'],
  ['shunt_nOhm', [1, 2 ** 32 - 1]],
  ['gain_ppm', [-(2 ** 31), 2 ** 31 - 1]],
  ['offset_nV', [-(2 ** 31), 2 ** 31 - 1]],
  ['window_us', [1, 2 ** 32 - 1]],
  ['stream', 'word'],
  ['speed', [1, 2 ** 32 - 1]],
];

/** Keys of later firmware, in their order behind those above; a hello may end before any of them. */
const LATER_KEYS: typeof KEYS = [
  ['trigger_uA', [1, 2 ** 32 - 1]],
  ['cal', 'word'],
  ['cal_gen', [0, 2 ** 32 - 1]],
];
const ALL_KEYS = [...KEYS, ...LATER_KEYS];

/**
 * @param body a line without the space and check code at its end; its check code is checked already
 * @returns null where a key is missing, out of order or out of its limits; keys that are not known are skipped.
 *   Of a hello of another `proto` nothing but that is certain: see `protoOf`.
 */
export function parseHello(body: string): Hello | null {
  const pairs = pairsOf('H', body);
  if (pairs === null) return null;
  const values: Record<string, string | number> = {};
  let next = 0;
  for (const [key, text] of pairs) {
    const wanted = ALL_KEYS[next];
    if (wanted === undefined || key !== wanted[0]) {
      if (ALL_KEYS.some(([known]) => known === key)) return null;
      continue;
    }
    const value = readValue(text, wanted[1]);
    if (value === null) return null;
    values[key] = value;
    next++;
  }
  if (next < KEYS.length || values['proto'] !== PROTO) return null;
  return { kind: 'hello', ...values } as unknown as Hello;
}

/** Keys of a line of limits, in their order. */
const LIMIT_KEYS = ['range_uV', 'step_pV', 'offset_nV', 'gain_ppm', 'conv_us'] as const;

/** @param body a line without its check code, which is checked already; null where it is not whole */
export function parseLimits(body: string): ChipLimits | null {
  const pairs = pairsOf('L', body);
  if (pairs === null || pairs.length < LIMIT_KEYS.length + 1) return null;
  const numbers = LIMIT_KEYS.map((key, i) => (pairs[i]![0] === key ? readValue(pairs[i]![1], [0, 2 ** 32 - 1]) : null));
  const [key, temp] = pairs[LIMIT_KEYS.length]!;
  if (numbers.includes(null) || key !== 'temp' || (temp !== 'yes' && temp !== 'no')) return null;
  const [range_uV, step_pV, offset_nV, gain_ppm, conv_us] = numbers as number[];
  return {
    kind: 'limits',
    range_uV: range_uV!,
    step_pV: step_pV!,
    offset_nV: offset_nV!,
    gain_ppm: gain_ppm!,
    conv_us: conv_us!,
    temp: temp === 'yes',
  };
}

/** Version that a hello line with a right check code states, or null where it is none. */
export function protoOf(line: string): number | null {
  const match = /^H proto=([0-9a-f]{1,4}) /.exec(line);
  return match === null ? null : parseInt(match[1]!, 16);
}

function pairsOf(type: string, body: string): [string, string][] | null {
  const [letter, ...fields] = body.split(' ');
  if (letter !== type) return null;
  const pairs = fields.map((field) => field.split('='));
  return pairs.every((pair) => pair.length === 2 && /^[A-Za-z_]+$/.test(pair[0]!))
    ? (pairs as [string, string][])
    : null;
}

function readValue(text: string, as: 'word' | [number, number]): string | number | null {
  if (as === 'word') return WORD.test(text) ? text : null;
  if (!NUMBER.test(text)) return null;
  const value = parseInt(text, 16);
  return value >= as[0] && value <= as[1] ? value : null;
}
