// Corrupted lines by the million: not one may be believed. Damage is drawn as serial
// lines suffer it: flipped bits, bursts, lost, doubled and foreign bytes, torn and
// joined lines. The short form runs here, ten million in the soak.
import { expect, test } from 'vitest';
import { seededRandom } from '../../../host/emulator/random.ts';
import { checkCode } from '../../../host/link/crc32.ts';
import { crc32 } from 'node:zlib';
import { parseLine } from '../../../host/link/lines.ts';

const LINES = process.env['NIGHTDRAW_SOAK'] === '1' ? 10_000_000 : 100_000;
const SEED = Number(process.env['NIGHTDRAW_SEED'] ?? 4);

const random = seededRandom(SEED);
const below = (n: number) => Math.floor(random() * n);
const hex = (n: number) => (n < 0 ? `-${(-n).toString(16)}` : n.toString(16));

function goodLine(): string {
  const seq = below(1e6),
    t_us = (seq + 1) * 50_000 + below(1000),
    mean = below(4e5) - 1e4;
  const bodies = [
    () =>
      `W ${[seq, t_us, 50_000 + below(99), 47, mean, mean - below(900), mean + below(900), below(2 ** 40), below(16)].map(hex).join(' ')} `,
    () => `V ${[seq, t_us, 12_000 + below(900), 21_000 + below(900), below(3)].map(hex).join(' ')} `,
    () => `S ${hex(seq)} ${hex(t_us)} bus-nack ${below(9)} `,
  ];
  const body = bodies[Math.min(2, below(22) < 19 ? 0 : 1 + below(2))]!();
  return body + checkCode(body);
}

function damaged(line: string, other: string): string {
  const at = below(line.length);
  const flip = (text: string, i: number) =>
    text.slice(0, i) + String.fromCharCode(text.charCodeAt(i) ^ (1 << below(8))) + text.slice(i + 1);
  switch (below(9)) {
    case 0:
      return flip(line, at);
    case 1:
      return Array.from({ length: 2 + below(4) }).reduce<string>((text) => flip(text, below(text.length)), line);
    case 2: {
      const length = 1 + below(4);
      return (
        line.slice(0, at) +
        Array.from({ length }, () => String.fromCharCode(32 + below(95))).join('') +
        line.slice(at + length)
      );
    }
    case 3:
      return line.slice(0, at) + line.slice(at + 1 + below(6));
    case 4:
      return line.slice(0, at + 1 + below(4)) + line.slice(at);
    case 5:
      return line.slice(0, at) + other.slice(below(other.length));
    case 6:
      return line + other;
    // A digit for a digit: what stays in form, so that the check code alone stands against it.
    case 7:
      return line.slice(0, at) + '0123456789abcdef'[below(16)]! + line.slice(at + 1);
    default: {
      const i = below(line.length);
      const codes = [...line];
      [codes[at], codes[i]] = [codes[i]!, codes[at]!];
      return codes.join('');
    }
  }
}

test(`${LINES} corrupted lines, seed ${SEED}: none believed`, () => {
  const believed: string[] = [];
  let corrupted = 0,
    half = 0;
  let other = goodLine();
  while (corrupted < LINES) {
    const good = goodLine();
    const bad = damaged(good, other);
    // A piece that is another whole good line is that line, not damage.
    if (bad !== good && bad !== other) {
      corrupted++;
      if (parseLine(bad).kind !== 'bad') believed.push(bad);
      const body = bad.length - 8;
      const text = bad.slice(0, Math.max(0, body));
      if (
        text !== good.slice(0, -8) &&
        text !== other.slice(0, -8) &&
        parseInt(bad.slice(body + 4), 16) === (crc32(Buffer.from(text, 'latin1')) & 0xffff)
      )
        half++;
    }
    other = good;
  }
  expect(believed).toEqual([]);
  // The same lines against half of the check code: 16 bits let about one in 65536 of random damage pass.
  console.log(`${corrupted} corrupted lines: 0 believed; 16 bits of the check code would have let ${half} pass`);
  if (LINES >= 1e7) expect(half).toBeGreaterThan(50);
});
