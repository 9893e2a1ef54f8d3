// Reads a hello line: rare, so it may be written for the reader rather than for speed.

import type { Hello } from '../capture/types.ts';

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

/**
 * @param body a line without the space and check code at its end; its check code is checked already
 * @returns null where a key is missing, out of order or out of its limits; keys that are not known are skipped.
 *   Of a hello of another `proto` nothing but that is certain: see `protoOf`.
 */
export function parseHello(body: string): Hello | null {
  const pairs = pairsOf(body);
  if (pairs === null) return null;
  const values: Record<string, string | number> = {};
  let next = 0;
  for (const [key, text] of pairs) {
    const wanted = KEYS[next];
    if (wanted === undefined || key !== wanted[0]) {
      if (KEYS.some(([known]) => known === key)) return null;
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

/** Version that a hello line with a right check code states, or null where it is none. */
export function protoOf(line: string): number | null {
  const match = /^H proto=([0-9a-f]{1,4}) /.exec(line);
  return match === null ? null : parseInt(match[1]!, 16);
}

function pairsOf(body: string): [string, string][] | null {
  const [letter, ...fields] = body.split(' ');
  if (letter !== 'H') return null;
  const pairs = fields.map((field) => field.split('='));
  return pairs.every((pair) => pair.length === 2 && /^[A-Za-z_]+$/.test(pair[0]!)) ? (pairs as [string, string][]) : null;
}

function readValue(text: string, as: 'word' | [number, number]): string | number | null {
  if (as === 'word') return WORD.test(text) ? text : null;
  if (!NUMBER.test(text)) return null;
  const value = parseInt(text, 16);
  return value >= as[0] && value <= as[1] ? value : null;
}
