// The line parser against the vectors shared with the firmware, and against damage:
// no corrupted line may be believed.
import fc from 'fast-check';
import { readFileSync } from 'node:fs';
import { crc32 } from 'node:zlib';
import { describe, expect, test } from 'vitest';
import { formatCommand } from '../../../host/link/commands.ts';
import { checkCode, crc32OfText } from '../../../host/link/crc32.ts';
import { LINE_CHARS_MAX, parseLine } from '../../../host/link/lines.ts';

/** Signs a line with zlib's CRC-32, not with our own. */
function signed(body: string): string {
  return `${body} ${crc32(`${body} `).toString(16).toUpperCase().padStart(8, '0')}`;
}

const hex = (value: number) => (value < 0 ? `-${(-value).toString(16)}` : value.toString(16));

describe('check code', () => {
  // Catalogue of parametrised CRC algorithms, entry CRC-32/ISO-HDLC: check value of "123456789".
  test('has the catalogue value', () => expect(crc32OfText('123456789')).toBe(0xcbf43926));
  test('is written in eight capital digits', () => expect(checkCode('123456789')).toBe('CBF43926'));
  test('agrees with zlib on any printable text', () => {
    fc.assert(fc.property(fc.string({ unit: 'grapheme-ascii' }), (text) => crc32OfText(text) === crc32(text)));
  });
  test('refuses what is not printable', () => {
    for (const text of ['a\x1fb', 'a\x7f', 'a\u00e9', '\n']) expect(crc32OfText(text)).toBe(-1);
  });
});

interface Vector {
  type: string;
  values: Record<string, number | string>;
  line: string;
}

function sharedVectors(): Vector[] {
  const lines = readFileSync(new URL('../firmware/line-vectors.txt', import.meta.url), 'utf8').split('\n');
  const vectors: Vector[] = [];
  lines.forEach((text, i) => {
    if (!text.startsWith('= ')) return;
    const [, type, ...pairs] = text.split(' ');
    const values = Object.fromEntries(
      pairs.map((pair) => {
        const [key, value] = pair.split('=') as [string, string];
        return [key, /^-?\d+$/.test(value) ? Number(value) : value];
      }),
    );
    vectors.push({ type: type!, values, line: lines[i + 1]! });
  });
  return vectors;
}

const KINDS: Record<string, string> = {
  R: 'raw',
  L: 'limits',
  H: 'hello',
  W: 'window',
  V: 'voltage',
  S: 'status',
  A: 'answer',
  E: 'refusal',
};

/** What the parser gives for a vector, apart from its kind. */
function expectedOf(type: string, values: Record<string, number | string>): Record<string, unknown> {
  const { tag, count, reason, seq, t_us, samples, ...rest } = values;
  switch (type) {
    case 'A':
      return { tag, value: t_us ?? Object.values(rest)[0] ?? null, ...(count === undefined ? {} : { count }) };
    case 'E':
      return { tag, reason };
    case 'L':
      return { ...rest, temp: rest['temp'] === 'yes' };
    case 'V':
      return { ...values, temp_mC: values['temp_mC'] === 'none' ? NaN : values['temp_mC'] };
    case 'R': {
      let at_us = Number(t_us);
      const list = String(samples)
        .split('/')
        .map((sample) => {
          const [spacing_us, units, flags] = sample.split(',').map(Number) as [number, number, number];
          return { t_us: (at_us += spacing_us), units, flags };
        });
      return { seq, t_us: at_us, samples: list };
    }
    default:
      return values;
  }
}

describe('vectors shared with the firmware', () => {
  const vectors = sharedVectors();
  test('there are some of every type', () => {
    expect(new Set(vectors.map((vector) => vector.type))).toEqual(new Set([...'HLWRVSAEhpiswtzgukfrnqb']));
  });
  test('every line type, status code, cause and reason of PROTOCOL.md has one', () => {
    const page = readFileSync(new URL('../../../firmware/PROTOCOL.md', import.meta.url), 'utf8');
    const [board, host] = page.split('## Lines from the board')[1]!.split('## Lines from the host') as [string, string];
    const headings = [...board.matchAll(/^### (.*)$/gm)].flatMap(([, heading]) =>
      [...heading!.matchAll(/`([A-Z])`/g)].map(([, type]) => type!),
    );
    const commands = [...host.matchAll(/^\| [a-z]+ \| `([a-z]) tag/gm)].map(([, type]) => type!);
    expect(headings.length).toBe(8);
    expect(new Set(vectors.map(({ type }) => type))).toEqual(new Set([...headings, ...commands]));
    const words = (type: string, key: string) =>
      new Set(vectors.filter((vector) => vector.type === type).map(({ values }) => String(values[key])));
    const section = (from: string, to: string) =>
      board.slice(board.indexOf(from), board.indexOf(to, board.indexOf(from) + 1));
    const codes = [...section('### `S`', '###').matchAll(/^\| `([a-z-]+)` \|/gm)].map(([, code]) => code!);
    expect(words('S', 'code')).toEqual(new Set(codes));
    const causes = /`cause` \| why it booted, a word: ([^;]*);/.exec(board)![1]!.match(/[a-z]+/g)!;
    expect(words('H', 'cause')).toEqual(new Set([...causes, 'unknown']));
    const reasons = [...section('Reasons: ', '`tag` is').matchAll(/`([a-z]{2,})` \(/g)].map(([, reason]) => reason!);
    expect(reasons.length).toBe(8);
    expect(words('E', 'reason')).toEqual(new Set(reasons));
  });
  for (const { type, values, line } of vectors) {
    test(`${type} ${JSON.stringify(values)}`, () => {
      if (type in KINDS) {
        const expected = expectedOf(type, values);
        expect(parseLine(line)).toEqual({ kind: KINDS[type], ...expected });
      } else {
        expect(
          formatCommand(type as 'h', values['tag'] as number, Object.values(values)[1] as number | undefined),
        ).toBe(`${line}\n`);
      }
    });
  }
});

const W = 'W 0 c5b6 224a 8 4e20 4e20 4e20 2adc8 20';

describe('refusals', () => {
  const refused = (line: string) => expect(parseLine(line), line).toMatchObject({ kind: 'bad', line });
  test('the base line is good', () => expect(parseLine(signed(W)).kind).toBe('window'));

  test('form', () => {
    for (const line of [
      '',
      ' ',
      'x',
      'W',
      W,
      `${W} `,
      `${W} 0000`,
      signed(''),
      signed('W'),
      `${signed(W)}\r`,
      ` ${signed(W)}`,
      `${signed(W)} `,
    ])
      refused(line);
    for (const body of [
      W.replace('W', 'w'),
      W.replace('W', 'Q'),
      W.replace('W ', 'WW '),
      `${W} `,
      W.replace(' 8 ', '  8 '),
      `${W} 0`,
      W.slice(0, -3),
    ])
      refused(signed(body));
  });

  test('a check code in small letters', () => {
    const line = signed(W);
    refused(line.slice(0, -8) + line.slice(-8).toLowerCase());
  });

  test('a second spelling of a number', () => {
    for (const count of ['08', '+8', '0x8', '-0', '', '8.0', '8-', '--8', '-', 'A', 'g'])
      refused(signed(W.replace(' 8 ', ` ${count} `)));
  });

  test('values out of their limits', () => {
    const line = (fields: (number | string)[]) =>
      signed(['W', ...fields.map((f) => (typeof f === 'number' ? hex(f) : f))].join(' '));
    const good = [0, 50614, 8778, 8, 20000, 20000, 20000, 175560, 32];
    expect(parseLine(line(good)).kind).toBe('window');
    const out: [number, number | string][] = [
      [0, 2 ** 32],
      [0, -1],
      [1, '20000000000000'],
      [1, 'ffffffffffffffff'],
      [1, 8777],
      [2, 0],
      [2, 2 ** 32],
      [3, 0],
      [4, 2 ** 31],
      [5, -(2 ** 31) - 1],
      [6, 2 ** 31],
      [7, '-20000000000000'],
      [8, 64],
      [5, 20001],
      [6, 19999],
    ];
    for (const [field, value] of out) refused(line(good.map((v, i) => (i === field ? value : v))));
  });

  test('a line over 240 bytes with its LF', () => {
    const long = (length: number) => signed(`H proto=1 fw=${'1'.repeat(length)}`);
    const spare = LINE_CHARS_MAX - long(0).length;
    expect(parseLine(long(spare))).toMatchObject({ reason: 'a hello that is not complete' });
    expect(parseLine(long(spare + 1))).toMatchObject({ reason: 'over 240 bytes long' });
  });

  test('hello: missing, doubled, swapped keys; unknown ones are skipped', () => {
    const hello =
      'H proto=1 fw=0.1.0 mcu=native sensor=none id=0 boot=1 cause=pin shunt_nOhm=1 gain_ppm=0 offset_nV=0 window_us=c350 stream=windows speed=1';
    expect(parseLine(signed(hello)).kind).toBe('hello');
    expect(parseLine(signed(hello.replace(' boot=1', ' boot=1 colour=green')))).toEqual(parseLine(signed(hello)));
    expect(parseLine(signed(`${hello} new=1`)).kind).toBe('hello');
    for (const [from, to] of [
      [' boot=1', ''],
      [' boot=1', ' boot=1 boot=1'],
      ['boot=1 cause=pin', 'cause=pin boot=1'],
      ['boot=1', 'boot'],
      ['boot=1', 'boot=1=1'],
      ['proto=1', 'proto=2'],
      ['fw=0.1.0', 'fw='],
      ['fw=0.1.0', 'fw=A'],
      ['shunt_nOhm=1', 'shunt_nOhm=0'],
      ['speed=1', 'speed=0'],
    ] as const) {
      refused(signed(hello.replace(from, to)));
    }
  });
});

const windowLine = fc
  .record({
    seq: fc.nat(),
    t_us: fc.integer({ min: 1_000_000, max: Number.MAX_SAFE_INTEGER }),
    dur_us: fc.integer({ min: 1, max: 1_000_000 }),
    count: fc.integer({ min: 1, max: 1000 }),
    around: fc.tuple(fc.integer({ min: -(2 ** 31), max: 2 ** 31 - 1 }), fc.integer(), fc.integer()),
    charge_nC: fc.maxSafeInteger(),
    flags: fc.nat(63),
  })
  .map(({ around, ...rest }) => {
    const [min_uA, mean_uA, max_uA] = [...around].sort((a, b) => a - b) as [number, number, number];
    return { kind: 'window' as const, ...rest, mean_uA, min_uA, max_uA };
  });

const lineOf = (w: {
  seq: number;
  t_us: number;
  dur_us: number;
  count: number;
  mean_uA: number;
  min_uA: number;
  max_uA: number;
  charge_nC: number;
  flags: number;
}) =>
  signed(
    ['W', ...[w.seq, w.t_us, w.dur_us, w.count, w.mean_uA, w.min_uA, w.max_uA, w.charge_nC, w.flags].map(hex)].join(
      ' ',
    ),
  );

describe('raw lines', () => {
  const refused = (body: string) => expect(parseLine(signed(body)), body).toMatchObject({ kind: 'bad' });
  test('are refused where a sample is not whole or out of its limits', () => {
    expect(parseLine(signed('R 0 f4240 500 0 41c 501 0')).kind).toBe('raw');
    for (const body of [
      'R 0',
      'R 0 f4240',
      'R 0 f4240 500',
      'R 0 f4240 500 0 41c',
      'R 0 f4240 500 0 41c 501',
      'R 0 f4240 500 0 0 501 0',
      'R 0 f4240 500 0 10000 501 0',
      'R 0 f4240 500 10',
      'R 0 f4240 200001 0',
      'R 0 f4240 -200001 0',
      'R 0 -1 500 0',
    ])
      refused(body);
  });
});

describe('limits and later keys', () => {
  const limits = 'L range_uV=28000 step_pV=1312d offset_nV=3e8 gain_ppm=1f4 conv_us=41c temp=yes';
  test('limits are refused where one is missing, swapped or no number', () => {
    expect(parseLine(signed(limits)).kind).toBe('limits');
    for (const [from, to] of [
      [' temp=yes', ''],
      ['temp=yes', 'temp=maybe'],
      ['range_uV=28000 step_pV=1312d', 'step_pV=1312d range_uV=28000'],
      ['=3e8', '=03e8'],
    ] as const) {
      expect(parseLine(signed(limits.replace(from, to)))).toMatchObject({ kind: 'bad' });
    }
  });
  test('a hello of firmware 0.1 has none of the later keys and is read', () => {
    const old =
      'H proto=1 fw=0.1.0 mcu=native sensor=none id=0 boot=1 cause=pin shunt_nOhm=1 gain_ppm=0 offset_nV=0 window_us=c350 stream=windows speed=1';
    expect(parseLine(signed(old))).not.toHaveProperty('cal');
    expect(parseLine(signed(`${old} trigger_uA=4e20 cal=none cal_gen=0`))).toMatchObject({
      trigger_uA: 20_000,
      cal: 'none',
      cal_gen: 0,
    });
    expect(parseLine(signed(`${old} cal=none trigger_uA=4e20`))).toMatchObject({ kind: 'bad' });
  });
});

describe('properties', () => {
  test('a window comes back as it was written', () => {
    fc.assert(
      fc.property(windowLine, (window) => {
        expect(parseLine(lineOf(window))).toEqual(window);
      }),
    );
  });

  test('no damaged line is believed', () => {
    const damage = fc.oneof(
      fc.record({ how: fc.constant('flip'), at: fc.nat(), bit: fc.nat(7) }),
      fc.record({ how: fc.constant('replace'), at: fc.nat(), bit: fc.integer({ min: 0, max: 255 }) }),
      fc.record({ how: fc.constant('remove'), at: fc.nat(), bit: fc.integer({ min: 1, max: 40 }) }),
      fc.record({ how: fc.constant('repeat'), at: fc.nat(), bit: fc.integer({ min: 1, max: 40 }) }),
      fc.record({ how: fc.constant('swap'), at: fc.nat(), bit: fc.nat() }),
    );
    fc.assert(
      fc.property(windowLine, fc.array(damage, { minLength: 1, maxLength: 4 }), (window, damages) => {
        const good = lineOf(window);
        const line = damages.reduce((text, { how, at, bit }) => damaged(text, how, at, bit), good);
        fc.pre(line !== good);
        return parseLine(line).kind === 'bad';
      }),
      { numRuns: 20_000 },
    );
  });

  test('two lines that lost the LF between them are refused, any pieces joined too', () => {
    fc.assert(
      fc.property(windowLine, windowLine, fc.nat(60), fc.nat(60), (a, b, cutA, cutB) => {
        const [first, second] = [lineOf(a), lineOf(b)];
        const line = first.slice(0, first.length - cutA) + second.slice(cutB);
        fc.pre(line !== first && line !== second);
        return parseLine(line).kind === 'bad';
      }),
    );
  });
});

function damaged(text: string, how: string, at: number, bit: number): string {
  if (text.length === 0) return text;
  const i = at % text.length;
  const put = (code: number) => text.slice(0, i) + String.fromCharCode(code & 0xff) + text.slice(i + 1);
  if (how === 'flip') return put(text.charCodeAt(i) ^ (1 << bit));
  if (how === 'replace') return put(bit);
  if (how === 'remove') return text.slice(0, i) + text.slice(i + bit);
  if (how === 'repeat') return text.slice(0, i + bit) + text.slice(i);
  const j = bit % text.length;
  const codes = [...text];
  [codes[i], codes[j]] = [codes[j]!, codes[i]!];
  return codes.join('');
}
