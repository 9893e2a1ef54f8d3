// A board on the bench: the circuit as it was built, solved for what lies at the pins of U1 and under the
// probes of the meter, and the shipped image in the emulated microcontroller behind it. The hands connect
// loads, move leads and read the meter; what the board sends is kept.
//
// Resistances that the circuit does not list: fuses 0.3, 0.1 and 0.001 ohm (BOARD.md, "Parts"; F4 memory);
// each bolt of R1 0.4 mohm (memory); D2 and D3 500 kohm near 0 V (memory); inputs of U1 92 kohm between
// them, VBUS 1 Mohm (SLYS021A); meter 20 mohm on amperes (practice).
// Assumed for want of a figure: without C1 or C4 the noise is six times as large; with a pull-up of more than
// 5 kohm one byte in some hundreds is not acknowledged.
import { OPEN } from '../../../firmware/circuit/shape.ts';
import type { Part } from '../../../firmware/circuit/shape.ts';
import { seededRandom } from '../../../host/emulator/random.ts';
import { carOf, command, startRun } from '../board-run.ts';
import type { BoardRun, RunOptions } from '../board-run.ts';
import type { Build } from './build-faults.ts';
import { POST, solve } from './network.ts';
import type { Specimen } from './specimens.ts';

export type Load = 'none' | 'series' | 'one' | 'both';

const FUSE_OHM: Record<string, number> = { F4: 0.001, F5: 0.1 };
const BOLT_OHM = 0.0004;
const INPUTS_OHM = 92_000;
const VBUS_OHM = 1e6;
const DIODES_OHM = 250_000;
const METER_OHM = 0.02;
const BATTERY_OHM = 0.015;
/** A pin that lies on a net's bolt: `CAR=SENSE_CAR` puts the lead SENSE_CAR at CAR. */
const LEAD = /^(.+)=(.+)$/;
/** Below this at its input the regulator gives no 5 V. */
const REGULATED_V = 5.5;
const MOVED_EVERY_S = 0.013;
const BROWNOUT_EVERY_S = 1.7;
const REFUSED_EVERY_S = 0.4;
const RUN_S = 0.05;

export class Bench {
  readonly run: BoardRun;
  /** What the board is started with: for whoever starts another one on the same bench. */
  readonly options: RunOptions;
  /** False: nothing runs, and no byte comes. */
  readonly powered: boolean;
  private load: Load = 'none';
  private moved = false;
  private time_s = 0;
  private readonly random: () => number;
  private readonly solved = new Map<string, ReadonlyMap<string, number>>();
  private jump = { from_s: -1, share: 0 };

  constructor(
    readonly build: Build,
    readonly specimen: Specimen,
  ) {
    this.random = seededRandom(specimen.seed + 99);
    this.powered = this.volt('SURGE') - this.volt('GND') > REGULATED_V;
    const chip = this.part('U1')!;
    const bit = (pin: string) => (chip.on[pin] === '5V' ? 1 : 0);
    this.options = {
      car: carOf([]),
      seed: specimen.seed,
      sensor: chip.type === 'INA226' ? 'ina226' : 'ina228',
      noise: this.part('C1') === undefined || this.part('C4') === undefined ? 6 : 1,
      errors: {
        offset_nV: specimen.offset_nV,
        gain_ppm: specimen.gain_ppm,
        oscillator_ppm: specimen.oscillator_ppm,
      },
      wiring: {
        // A1 is pin 1, A0 pin 2; SLYS021A, table 7-2: GND 0, VS 1, four times as much for A1.
        address: 0x40 + 4 * bit('1') + bit('2'),
        alertOpen: chip.on['3'] === OPEN,
        eepromWorn: build.eepromWorn === true,
      },
      pins: {
        shuntMean_V: (from_s, to_s) => this.shunt_V((from_s + to_s) / 2),
        bus_V: () =>
          (this.volt('U1 VBUS') - this.volt('GND')) * (1 + specimen.bus_ppm / 1e6) +
          (chip.on['8'] === OPEN ? 0 : specimen.bus_mV / 1000),
        temperature_C: () => specimen.bench.room_C + specimen.chip_K + (build.heat_K ?? 0),
      },
    };
    this.run = startRun(this.options);
    if (chip.on['6'] === OPEN) this.run.board.setFault('unplugged');
    if (this.part('R2') === undefined) this.run.board.setFault('sda-held');
    if (this.part('R3') === undefined) this.run.board.setFault('scl-held');
  }

  /** The hands put a load between the plus post and X3, the meter in series. */
  connect(load: Load): void {
    this.load = load;
  }

  /** The hands move each lead at shunt and fuses to and fro, or stop. */
  move(on: boolean): void {
    this.moved = on;
  }

  /** Runs for so many seconds of true time. */
  wait(seconds: number): void {
    const end_s = this.time_s + seconds;
    while (this.time_s < end_s - 1e-9) {
      const before_s = this.time_s;
      this.time_s += RUN_S;
      if (!this.powered) continue;
      // The board's own second is longer or shorter by its crystal.
      this.run.board.runFor(RUN_S * this.crystal);
      const passed = (every_s: number) => Math.floor(before_s / every_s) !== Math.floor(this.time_s / every_s);
      if (this.build.restless && passed(BROWNOUT_EVERY_S)) this.run.board.reset('brownout');
      const pullUp = Math.max(this.part('R2')?.value ?? 0, this.part('R3')?.value ?? 0);
      if (pullUp > 5000 && passed(REFUSED_EVERY_S)) this.run.board.refuseByteAfter(Math.floor(this.random() * 9));
    }
  }

  /** A command to the board, such as `z 1`. */
  order(text: string): void {
    if (this.powered) this.run.board.send(command(text));
  }

  /** The board's own time, and the true one at which it was asked; null where it does not answer. */
  ping(): { true_s: number; t_us: number } | null {
    const true_s = this.time_s;
    const before = this.run.answers.length;
    this.order('p fffe');
    this.wait(0.1);
    const back = this.run.answers.slice(before).find(({ tag }) => tag === 0xfffe);
    return back?.kind === 'answer' ? { true_s, t_us: back.value! } : null;
  }

  /** The meter on its 10 A range, in series with the load. */
  ampere(): number {
    const { current_ppm } = this.specimen.meter;
    const true_A = (this.volt('LOADED') - this.volt('METERED')) / METER_OHM;
    return Math.round(true_A * (1 + current_ppm / 1e6) * 100) / 100;
  }

  /** Between the clamps X1 and X2, on the 20 V range. */
  clamps_V(): number {
    return this.meter_V(this.volt('BATTERY_PLUS'), 0.01);
  }

  /** At the sense terminals of R1, on the 200 mV range. */
  shunt_mV(): number {
    return this.meter_V(this.volt('R1 car') - this.volt('R1 battery'), 1e-4) * 1000;
  }

  /** From the clamp X1 to VBUS of U1, on the 2 V range. */
  voltageLead_mV(): number {
    return this.meter_V(this.volt('BATTERY_PLUS') - this.volt('U1 VBUS'), 1e-3) * 1000;
  }

  /** A pin of a chip against the board's ground. */
  pin_V(ref: string, pin: string): number {
    const net = this.part(ref)?.on[pin];
    return net === undefined || net === OPEN || !this.powered ? 0 : this.meter_V(this.logic_V(net), 0.01);
  }

  /** Whether the meter jumps while the leads are moved. */
  meterJumps(): boolean {
    this.move(true);
    const seen = Array.from({ length: 40 }, (_, i) => {
      this.newJump(1e6 + i);
      return this.ampere();
    });
    this.move(false);
    return Math.max(...seen) - Math.min(...seen) > 0.05;
  }

  private get crystal(): number {
    return ((this.part('Y1')!.value ?? 16e6) / 16e6) * (1 + this.specimen.crystal_ppm / 1e6);
  }

  private meter_V(true_V: number, step_V: number): number {
    return Math.round((true_V * (1 + this.specimen.meter.voltage_ppm / 1e6)) / step_V) * step_V;
  }

  private logic_V(net: string): number {
    if (net === '5V') return 5;
    const pullUp = this.build.circuit.parts.find(
      ({ kind, on }) => kind === 'resistor' && Object.values(on).includes(net) && Object.values(on).includes('5V'),
    );
    return pullUp === undefined ? 0 : 5;
  }

  private part(ref: string): Part | undefined {
    return this.build.circuit.parts.find((part) => part.ref === ref);
  }

  private shunt_V(at_s: number): number {
    this.newJump(at_s);
    return this.volt('IN_PLUS') - this.volt('IN_MINUS') + this.specimen.emf_nV * 1e-9;
  }

  /** While leads are moved, a poor joint changes some dozen times a second. */
  private newJump(at_s: number): void {
    if (!this.moved || this.build.joint === undefined || this.build.restless) {
      this.jump = { from_s: at_s, share: 0 };
    } else if (Math.abs(at_s - this.jump.from_s) > MOVED_EVERY_S) {
      this.jump = { from_s: at_s, share: this.random() < 0.3 ? Math.ceil(this.random() * 4) / 4 : 0 };
    }
  }

  private volt(net: string): number {
    const key = `${this.load} ${this.jump.share}`;
    let all = this.solved.get(key);
    if (all === undefined) this.solved.set(key, (all = this.solve()));
    return all.get(net) ?? 0;
  }

  private solve(): ReadonlyMap<string, number> {
    const { specimen, build } = this;
    const { bench } = specimen;
    const chip = this.part('U1')!;
    const on = (ref: string, pin: string) => this.part(ref)!.on[pin]!;
    const [one, other] = bench.load_ohm;
    const load_ohm = { none: null, one, series: one + other, both: (one * other) / (one + other) }[this.load];
    const chipAt = (pin: string) => (chip.on[pin] === OPEN ? `U1.${pin}` : chip.on[pin]!);
    const resistors: (readonly [string, string, number])[] = [
      ...build.circuit.parts.flatMap((part) => this.ways(part)),
      ['EMF', 'PLUS', BATTERY_OHM],
      ['PLUS', on('X1', '1'), 1e-3],
      [POST, on('X2', '1'), 1e-4],
      [POST, on('X2', '2'), 1e-4],
      ['LOADED', 'METERED', METER_OHM],
      ['METERED', on('X3', '1'), 1e-3 + this.jumped('X3')],
      ...(load_ohm === null ? [] : ([['PLUS', 'LOADED', load_ohm + bench.lead_ohm]] as const)),
      [chipAt('10'), chipAt('9'), INPUTS_OHM],
      [chipAt('10'), chipAt('9'), DIODES_OHM],
      ['U1 VBUS', 'GND', VBUS_OHM],
      ...(chip.on['8'] === OPEN ? [] : ([[chip.on['8']!, 'U1 VBUS', 1e-3]] as const)),
      ['SURGE', 'GND', (bench.battery_V / specimen.draw_mA) * 1000],
    ];
    return solve({
      resistors,
      battery: { plus: 'EMF', volt: bench.battery_V },
      sinks: [
        [chipAt('10'), specimen.bias_nA[0] * 1e-9],
        [chipAt('9'), specimen.bias_nA[1] * 1e-9],
      ],
    });
  }

  private jumped(ref: string): number {
    return this.build.joint?.ref === ref ? this.build.joint.ohm * this.jump.share : 0;
  }

  /** What conducts in a part, with this specimen's values. */
  private ways(part: Part): (readonly [string, string, number])[] {
    const { specimen } = this;
    const [a, b] = [part.on['1']!, part.on['2']!];
    const by = { R5: specimen.filter_ppm[0], R6: specimen.filter_ppm[1], R7: specimen.surge_ppm }[part.ref] ?? 0;
    if (part.kind === 'resistor') return [[a, b, part.value! * (1 + by / 1e6)]];
    if (part.kind === 'fuse') return [[a, b, (FUSE_OHM[part.ref] ?? 0.3) + this.jumped(part.ref)]];
    if (part.kind !== 'shunt') return [];
    const sense = (pin: string, inside: string): readonly [string, string, number] => {
      const bolt = LEAD.exec(part.on[pin]!);
      return bolt === null ? [inside, part.on[pin]!, 1e-3] : [bolt[1]!, bolt[2]!, 1e-3];
    };
    return [
      [a, 'R1 battery', BOLT_OHM],
      ['R1 battery', 'R1 car', part.value! * (1 + specimen.shunt_ppm / 1e6)],
      ['R1 car', b, BOLT_OHM],
      sense('3', 'R1 battery'),
      sense('4', 'R1 car'),
    ];
  }
}
