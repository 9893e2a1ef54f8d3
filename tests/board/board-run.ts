// Runs the shipped image in the emulated board and keeps its checked lines, for the
// tests of this folder.
import { readFileSync } from 'node:fs';
import { crc32 } from 'node:zlib';
import type {
  ChipLimits,
  Hello,
  RawReading,
  StatusReading,
  VoltageReading,
  WindowReading,
} from '../../host/contract/capture.ts';
import { EmulatedBoard } from '../../host/emulator/board.ts';
import type { CarSpec, ModuleSpec } from '../../host/emulator/car/spec.ts';
import type { Wiring } from '../../host/emulator/board.ts';
import type { SensedInputs, SpecimenErrors } from '../../host/emulator/sense-chip.ts';
import { parseLine } from '../../host/link/lines.ts';
import type { Answer, Bad, Refusal } from '../../host/link/lines.ts';

export const IMAGE = readFileSync(new URL('../../firmware/images/nightdraw-atmega328p.hex', import.meta.url), 'utf8');

export interface BoardRun {
  board: EmulatedBoard;
  hellos: Hello[];
  limits: ChipLimits[];
  raws: RawReading[];
  windows: WindowReading[];
  voltages: VoltageReading[];
  statuses: StatusReading[];
  answers: (Answer | Refusal)[];
  bad: Bad[];
  /** True times of the ends of conversions, ascending. */
  conversions_s: number[];
}

export interface RunOptions {
  car: CarSpec;
  seed?: number;
  id?: number;
  speed?: number;
  errors?: SpecimenErrors;
  sensor?: 'ina228' | 'ina226';
  noise?: number;
  pins?: SensedInputs;
  wiring?: Wiring;
  /** Another image, or this one with something changed. */
  image?: string;
  /** Takes the place of each line before it is read: a wire that destroys some. */
  wire?: (line: string) => string;
}

export function startRun(options: RunOptions): BoardRun {
  let line = '';
  const run: BoardRun = {
    board: new EmulatedBoard({
      image: options.image ?? IMAGE,
      car: options.car,
      seed: options.seed ?? 1,
      id: options.id ?? 1,
      speed: options.speed ?? 1,
      ...(options.errors && { errors: options.errors }),
      ...(options.sensor && { sensor: options.sensor }),
      ...(options.noise !== undefined && { noise: options.noise }),
      ...(options.pins && { pins: options.pins }),
      ...(options.wiring && { wiring: options.wiring }),
      onByte: (byte) => {
        if (byte !== 10) line += String.fromCharCode(byte);
        else {
          keep(run, options.wire ? options.wire(line) : line);
          line = '';
        }
      },
      onConversion: (at_s) => run.conversions_s.push(at_s),
    }),
    hellos: [],
    limits: [],
    raws: [],
    windows: [],
    voltages: [],
    statuses: [],
    answers: [],
    bad: [],
    conversions_s: [],
  };
  return run;
}

function keep(run: BoardRun, line: string): void {
  const parsed = parseLine(line);
  switch (parsed.kind) {
    case 'hello':
      return void run.hellos.push(parsed);
    case 'limits':
      return void run.limits.push(parsed);
    case 'raw':
      return void run.raws.push(parsed);
    case 'window':
      return void run.windows.push(parsed);
    case 'voltage':
      return void run.voltages.push(parsed);
    case 'status':
      return void run.statuses.push(parsed);
    case 'bad':
      return void run.bad.push(parsed);
    default:
      if ('tag' in parsed) run.answers.push(parsed);
  }
}

/** A command line with its check code (PROTOCOL.md). */
export function command(text: string): Buffer {
  const body = Buffer.from(`${text} `, 'latin1');
  // The code covers what stands before it, the space included.
  return Buffer.concat([body, Buffer.from(`${crc32(body).toString(16).toUpperCase().padStart(8, '0')}\n`, 'latin1')]);
}

/** A car of these modules: even climate, stiff battery. */
export function carOf(modules: ModuleSpec[]): CarSpec {
  return {
    lock_s: 0,
    modules,
    battery: { capacity_Ah: 60, rested_V: 12.6, fall_V: 0.9, surface_V: 0, surfaceTau_s: 3600, internal_mOhm: 10 },
    climate: { start_C: 21, end_C: 21, tau_s: 3600, swing_C: 0, swingPeriod_s: 3600 },
  };
}

/**
 * Seconds from the car's time 0 to the board's: the board starts its clock some
 * instructions after power-on. Median over the windows' time stamps against the
 * true ends of conversions.
 */
export function clockOffset_s(run: BoardRun): number {
  const offsets = run.windows
    .map((window) => nearest(run.conversions_s, window.t_us / 1e6) - window.t_us / 1e6)
    .sort((a, b) => a - b);
  return offsets[offsets.length >> 1]!;
}

/** The entry of an ascending list that lies nearest to `value`. */
export function nearest(list: number[], value: number): number {
  let low = 0;
  let high = list.length - 1;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (list[middle]! < value) low = middle + 1;
    else high = middle;
  }
  const before = list[low - 1];
  return before !== undefined && value - before < list[low]! - value ? before : list[low]!;
}
