// The front end in ngspice, its decks made from the circuit: the models against their data sheets and the
// discharge against its standard first, then burden, filter, and every accident of spice-cases.ts. Of both ways.
import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { BOARD } from '../../../firmware/circuit/board.ts';
import { PIN_CURRENT_A, PIN_DISCHARGE_A, PIN_LIMITS } from '../../../firmware/circuit/chips.ts';
import { MODULES_CIRCUIT } from '../../../firmware/circuit/modules.ts';
import type { Circuit } from '../../../firmware/circuit/shape.ts';
import { CASES, TOLD, caseDeck, gun } from '../../../firmware/circuit/spice-cases.ts';
import type { Case } from '../../../firmware/circuit/spice-cases.ts';
import { FUSE_OPENS, FUSES } from '../../../firmware/circuit/given.ts';
import { MODELS, node, partsDeck, senseRef } from '../../../firmware/circuit/spice-deck.ts';

let folder: string;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'nightdraw-spice-'));
});
afterAll(() => {
  rmSync(folder, { recursive: true, force: true });
});

/** Runs a deck in batch; rows of numbers that it wrote. @throws with what ngspice said */
function run(deck: string): number[][] {
  writeFileSync(join(folder, 'deck.cir'), deck);
  rmSync(join(folder, 'out.txt'), { force: true });
  const { status, stdout, stderr } = spawnSync('ngspice', ['-b', 'deck.cir'], { cwd: folder, encoding: 'utf8' });
  let written: string;
  try {
    written = readFileSync(join(folder, 'out.txt'), 'utf8');
  } catch {
    throw new Error(`ngspice ended with ${status}: ${stdout}${stderr}`);
  }
  return written
    .trim()
    .split('\n')
    .map((line) => line.trim().split(/\s+/).map(Number));
}

/** A deck of its own lines that writes `vectors`. */
const deck = (lines: string[], control: string[], vectors: string[]): string =>
  [
    '* nightdraw',
    ...MODELS,
    ...lines,
    '.control',
    ...control,
    ...vectors.map((vector, i) => `let told${i} = ${vector}`),
    'set wr_singlescale',
    `wrdata out.txt ${vectors.map((_, i) => `told${i}`).join(' ')}`,
    'quit',
    '.endc',
    '.end',
    '',
  ].join('\n');

describe('the models', () => {
  const forward_V = (model: string, mA: number) =>
    run(
      deck(
        [`I1 0 a ${mA / 1000}`, `D1 a 0 ${model}`, `I2 0 b ${mA / 1000}`, `D2 b 0 ${model}`],
        [`dc I2 ${mA / 1000} ${mA / 1000} 1`],
        ['v(a)'],
      ),
    )[0]![1]!;

  // BAT85, data sheet of 1996, "Electrical characteristics"; BAT46, data sheet of July 2006, table 3: at most.
  test.each([
    ['BAT85', 0.1, 0.24],
    ['BAT85', 1, 0.32],
    ['BAT85', 10, 0.4],
    ['BAT85', 100, 0.8],
    ['BAT46', 0.1, 0.25],
    ['BAT46', 10, 0.45],
    ['BAT46', 250, 1],
  ])('%s at %d mA: %d V', (model, mA, volts) => {
    expect(Math.abs(forward_V(model, mA) / volts - 1)).toBeLessThan(0.1);
  });

  test('SMBJ24A holds 38.9 V at 15.4 A, and takes nothing at 24 V', () => {
    const at = (amperes: number) =>
      run(
        deck([`I1 0 a ${amperes}`, 'X1 0 a SMBJ24A', 'R1 a 0 1meg'], [`dc I1 ${amperes} ${amperes} 1`], ['v(a)']),
      )[0]![1]!;
    expect(at(15.4)).toBeCloseTo(38.9, 0);
    expect(at(24e-6)).toBeCloseTo(24, 0);
  });
});

describe('the discharge of IEC 61000-4-2 into 2 Ω, per kilovolt', () => {
  // The table of the standard as quoted in the data sheet of an ST3237EB (table 11), for each of four levels:
  // first peak 3.75 A/kV, 10 %; rise 0.7 to 1 ns; 2 A/kV at 30 ns and 1 A/kV at 60 ns, 30 %.
  const rows = () =>
    run(deck([...gun(8000, 'target'), 'RTARGET target 0 2'], ['tran 0.02n 100n 0 0.02n uic'], ['v(target)/2']));

  test('peak, rise, 30 and 60 ns are those of the table', () => {
    const wave = rows();
    const peak_A = Math.max(...wave.filter(([t]) => t! < 5e-9).map(([, A]) => A!));
    const at = (share: number) => wave.find(([, A]) => A! >= share * peak_A)![0]!;
    const after = (ns: number) => wave.find(([t]) => t! >= at(0.1) + ns * 1e-9)![1]!;
    expect(Math.abs(peak_A / 30 - 1)).toBeLessThan(0.1);
    expect(at(0.9) - at(0.1)).toBeGreaterThan(0.7e-9);
    expect(at(0.9) - at(0.1)).toBeLessThan(1e-9);
    expect(Math.abs(after(30) / 16 - 1)).toBeLessThan(0.3);
    expect(Math.abs(after(60) / 8 - 1)).toBeLessThan(0.3);
  });
});

/** The columns of a run: `TOLD` behind the time. */
class Run {
  private readonly rows: number[][];
  private readonly one: Case;
  constructor(circuit: Circuit, one: Case) {
    this.one = one;
    this.rows = run(caseDeck(circuit, one, 'out.txt'));
    expect(this.rows.at(-1)![0]).toBeGreaterThan(0.99 * one.stop_s);
  }
  column(name: (typeof TOLD)[number]): number[] {
    return this.rows.map((row) => row[1 + TOLD.indexOf(name)]!);
  }
  /** A²s. */
  heat(name: (typeof TOLD)[number]): number {
    const amperes = this.column(name);
    return this.rows.reduce((sum, [t], i) => sum + (i === 0 ? 0 : amperes[i]! ** 2 * (t! - this.rows[i - 1]![0]!)), 0);
  }
  /** What a pin is beyond its limits by, in words; the chip bears it while no more than so much flows. */
  beyond(): string[] {
    return PIN_LIMITS.flatMap(({ pin, least_V, most_V }) => {
      const volts = this.column(pin as (typeof TOLD)[number]);
      const into = `into ${pin}` as (typeof TOLD)[number];
      const amperes = TOLD.includes(into) ? this.column(into) : volts.map(() => Infinity);
      const most_A = this.one.isDischarge === true ? PIN_DISCHARGE_A : PIN_CURRENT_A;
      const bad = volts.flatMap((V, i) => ((V < least_V || V > most_V) && Math.abs(amperes[i]!) > most_A ? [i] : []));
      const worst = bad.toSorted((i, j) => Math.abs(amperes[j]!) - Math.abs(amperes[i]!))[0];
      return worst === undefined ? [] : [`${pin}: ${volts[worst]!.toPrecision(2)} V`];
    });
  }
}

const withoutParts = (circuit: Circuit, ...refs: string[]): Circuit => ({
  ...circuit,
  parts: circuit.parts.filter((part) => !refs.includes(part.ref)),
});
const caseOf = (words: RegExp) => CASES.find((one) => words.test(one.name))!;

describe.each<[string, Circuit]>([
  ['the board', BOARD],
  ['the second way', MODULES_CIRCUIT],
])('%s', (_name, circuit) => {
  const chip = circuit.parts.find((part) => part.ref === senseRef(circuit))!;
  const pinNet = (name: string) => node(chip.on[chip.pins.find((pin) => pin.name === name)!.number]!);
  const between = `v(${pinNet('IN+')})-v(${pinNet('IN-')})`;
  const around = [
    ...partsDeck(circuit),
    `RPOST ${node('BATTERY_MINUS')} 0 1m`,
    'VBAT battery 0 12.6',
    `RBAT battery ${node('BATTERY_PLUS')} 0.01`,
    ...(circuit === MODULES_CIRCUIT ? [`VUSB ${node('5V')} ${node('GND')} 5`] : []),
    '.options rshunt=1e9 reltol=1e-6',
  ];

  test.each([16e-6, 0.02, 1, 10, 32])(
    '%d A: what the chip sees, what the car loses, what the shunt takes',
    (current_A) => {
      const [row] = run(
        deck(
          [...around, `ICAR battery ${node('CAR')} ${current_A}`],
          [`dc ICAR ${current_A} ${current_A} 1`],
          [between, `v(${node('CAR')})`, `(v(${node('CAR')})-v(${node('SHUNT_BATTERY')}))*${current_A}`],
        ),
      );
      const [, seen_V, burden_V, shunt_W] = row!;
      // 114 Ω of R5, R6, R15, R16 and 0.54 Ω of F2 and F3 before 92 kΩ; D2 and D3 (BAT85, as modelled) through 20.54 Ω.
      const shunt_V = current_A * 0.005;
      const diode_A = 2e-7 * Math.sinh(shunt_V / (1.34 * 0.02585));
      const lost_V = (shunt_V * 114.54) / 92_114 + 20.54 * diode_A;
      // Of 2 % of it, and of 2 nV, 0.4 µA: what the solver leaves.
      expect(Math.abs(shunt_V - seen_V! - lost_V)).toBeLessThan(0.02 * lost_V + 2e-9);
      expect(lost_V / shunt_V).toBeLessThan(current_A <= 10 ? 0.0015 : 0.003);
      // R1, F4's 2 mΩ and 1 mΩ of the post; 0.06 A of the board flow through the post too.
      expect(Math.abs(burden_V! - current_A * 0.008)).toBeLessThan(0.0001 + 1e-3 * current_A * 0.008);
      expect(Math.abs(shunt_W! / (current_A ** 2 * 0.005) - 1)).toBeLessThan(1e-3);
    },
  );

  test('the filter: 14 kHz, and what a ripple of 1 A at 10 kHz makes of a reading and of a window', () => {
    const rows = run(
      deck(
        [...around, `ICAR battery ${node('CAR')} DC 0.02 AC 1`],
        ['ac dec 400 100 10meg'],
        [`mag(${between})/0.005`],
      ),
    );
    const gain = (Hz: number) => rows.find(([f]) => f! >= Hz)![1]!;
    expect(gain(100)).toBeCloseTo(1, 2);
    // 1 / (2 π 114 Ω 100 nF) = 14.0 kHz, and the shunt's own 20 nH lift what comes above 5 mΩ / (2 π 20 nH) = 39.8 kHz:
    // (1 + (f / 39.8)²) / (1 + (f / 14.0)²) is a half at 16.1 kHz.
    const corner_Hz = rows.find(([, share]) => share! < Math.SQRT1_2)![0]!;
    expect(Math.abs(corner_Hz / 16_100 - 1)).toBeLessThan(0.03);
    // A conversion is the mean of its time (SLYS021A, 7.3.3.1, "Low latency digital filter"; taken as such).
    const driver = readFileSync(new URL('../../../firmware/drivers/ina228.c', import.meta.url), 'utf8');
    const conversion_s = Number(/limits = \{[^}]*?(\d+)\}/.exec(driver)![1]) * 1e-6;
    const mean = (Hz: number, time_s: number) => Math.abs(Math.sin(Math.PI * Hz * time_s) / (Math.PI * Hz * time_s));
    const around10k = Array.from({ length: 1001 }, (_, i) => 9500 + i);
    const most_mA = (time_s: number) => Math.max(...around10k.map((Hz) => gain(Hz) * mean(Hz, time_s) * 1000));
    expect(most_mA(conversion_s)).toBeLessThan(27);
    expect(most_mA(47 * conversion_s)).toBeLessThan(0.6);
    expect(most_mA(conversion_s)).toBeGreaterThan(20);
  });

  test.each(CASES.map((one) => [one.name, one] as const))('%s', (_what, one) => {
    const seen = new Run(circuit, one);
    expect(seen.beyond()).toEqual([]);
    for (const fuse of ['F1', 'F2', 'F3', 'F4', 'F5'] as const) {
      const { value } = circuit.parts.find((part) => part.ref === fuse)!;
      if (fuse !== one.melts) expect(seen.heat(fuse), fuse).toBeLessThan(FUSES[String(value)]!.melts_A2s);
    }
  });
});

describe('what was wrong once is found', () => {
  /** VBUS straight on battery plus, and nothing between the inputs' clamps and ground. */
  const onSupply: Circuit = {
    ...withoutParts(BOARD, 'R14', 'D5', 'C16'),
    parts: withoutParts(BOARD, 'R14', 'D5', 'C16').parts.map((part) =>
      part.ref === 'U1' ? { ...part, on: { ...part.on, '8': 'SUPPLY' } } : part,
    ),
  };

  test.each<[string, Circuit, RegExp, RegExp]>([
    ['swapped clamps, without R14 and D5', onSupply, /swapped/, /^VBUS: -1\d V/],
    ['an inductive load, without R14 and D5', onSupply, /inductive load/, /^VBUS: -1\d V/],
    [
      'a body below the post, without D6 and D7',
      withoutParts(BOARD, 'D6', 'D7'),
      /the body 2 V below/,
      /^IN\+: -0\.\d+ V/,
    ],
    ['the bridge, without D6 and D7', withoutParts(BOARD, 'D6', 'D7'), /the bridge comes off/, /^IN\+: /],
  ])('%s', (_what, circuit, accident, complaint) => {
    expect(new Run(circuit, caseOf(accident)).beyond()).toContainEqual(expect.stringMatching(complaint));
  });

  test.each<[string, RegExp, RegExp]>([
    ['F1 opens on swapped clamps', /plus and minus clamp swapped/, /^F1$/],
    ['F4 opens with the minus clamp on plus', /the minus clamp on the plus post/, /^F4$/],
  ])('%s', (_what, accident, fuse) => {
    const one = caseOf(accident);
    expect(one.melts).toMatch(fuse);
    const seen = new Run(BOARD, one);
    const name = one.melts as 'F1' | 'F4';
    const { value } = BOARD.parts.find((part) => part.ref === name)!;
    expect(Math.abs(seen.column(name).at(-1)!)).toBeGreaterThan(FUSE_OPENS.times * value!);
  });
});
