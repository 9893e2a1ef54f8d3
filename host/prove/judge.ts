// The judging of a new board: from what it told and what the meter showed to what is to be done next, and
// in the end to "sound" or to the one mistake that explains it. Pure: the same readings, the same answer.
import type { Hello } from '../contract/capture.ts';
import {
  bendLimit,
  CLOCK_LIMIT,
  gainLimit,
  JUMP_SHARE,
  noiseLimit_mA,
  shuntLimit,
  VOLTAGE_ASKED_V,
  VOLTAGE_LEAD_LIMIT_MV,
  voltageLimit_V,
  WARM_ASKED_C,
  WARM_LIMIT_K,
  wideFrom_mA,
  zeroLimit_mA,
} from './limits.ts';
import type { MistakeId } from './mistakes.ts';
import type { Listened, MeterId, Proof, Step } from './readings.ts';

/** What a sound board came to. */
export interface Within {
  /** Largest share by which it differed from the meter, over three currents. */
  share: number;
  /** What it read while nothing flowed. */
  zero_mA: number;
}

export type Next =
  /** Connect what the step says, and listen. */
  | { do: 'listen'; step: Step }
  | { do: 'read'; meter: MeterId }
  /** All is sound so far: the certificate is to be written. */
  | { do: 'store'; within: Within }
  | { do: 'end'; mistake: MistakeId }
  | { do: 'end'; mistake: null; within: Within };

const LOADS = ['series', 'one', 'both'] as const;
type Load = (typeof LOADS)[number];

const end = (mistake: MistakeId): Next => ({ do: 'end', mistake });
const read = (meter: MeterId): Next => ({ do: 'read', meter });

/** Pins are at 5 V or at nothing; the middle parts them. */
const LOW_V = 2.5;
/** Under this no load was connected, or no current came through. */
const SOME_A = 0.05;
/** Under this share of the current nothing of it is read. */
const NOTHING = 0.02;
/** Of its nominal resistance: under this no current flows through the shunt. */
const NO_SHUNT = 0.2;
/** The board itself draws 20 mA and more; an offset of so much is that, one of less is the chip's. */
const OWN_DRAW_MA = 15;

/**
 * @param sensor the chip that was meant: `ina228`, or `ina226`
 * @returns what is to be done next with a board that told this
 */
export function next(proof: Proof, sensor: string): Next {
  const { told, listened } = proof;
  if (told.hello === null) return silent(proof);
  if (told.boots > 0) return end('supply-dips');
  const rest = listened.rest;
  if (rest === undefined) return { do: 'listen', step: 'rest' };
  const early = ofBus(proof, rest) ?? (told.hello.sensor === sensor ? null : end('other-chip'));
  if (early !== null) return early;
  // Now, while the battery rests: a load takes some of its voltage for minutes.
  if (proof.meter.clamps_V === undefined) return read('clamps_V');
  for (const load of LOADS) {
    const found = ofLoad(proof, told.hello, rest, load);
    if (found !== null) return found;
  }
  const ranges = ofRanges(proof, told.hello);
  if (ranges !== null) return ranges;
  const moved = listened.moved;
  if (moved === undefined) return { do: 'listen', step: 'moved' };
  return ofJumps(proof, moved) ?? ofRest(proof, told.hello, rest) ?? sound(proof, told.hello, rest);
}

function silent({ meter }: Proof): Next {
  if (meter.supply_V === undefined) return read('supply_V');
  return end(meter.supply_V < LOW_V ? 'no-supply' : 'no-talk');
}

/** The chip and the two wires to it. */
function ofBus({ told, meter }: Proof, rest: Listened): Next | null {
  const last = told.statuses.findLast((code) => code !== 'sensor-ok');
  if (rest.windows > 0 && last === undefined) return rest.missed > 0 ? end('pull-up-weak') : null;
  switch (last) {
    case 'no-conversion':
      return end('alert');
    case 'bus-stuck':
      if (rest.windows > 0) return end('pull-up-weak');
      if (meter.sda_V === undefined) return read('sda_V');
      if (meter.scl_V === undefined) return read('scl_V');
      return end(meter.sda_V < LOW_V ? 'pull-up-sda' : meter.scl_V < LOW_V ? 'pull-up-scl' : 'bus-short');
    case 'sensor-id':
      return end('other-chip');
    case 'sensor-missing':
      if (rest.windows > 0) return end('pull-up-weak');
      if (meter.chipSupply_V === undefined) return read('chipSupply_V');
      return end(meter.chipSupply_V < LOW_V ? 'chip-supply' : 'address');
    default:
      return end('pull-up-weak');
  }
}

const amperes = ({ meter }: Proof, load: Load): number | undefined => meter[`${load}_A`];

/** Share of the meter's current that the board reads; 1 is right. */
const shareOf = (flows: Listened, rest: Listened, meter_A: number) => (flows.mean_mA - rest.mean_mA) / 1000 / meter_A;

/** One load: null where it reads as it should. */
function ofLoad(proof: Proof, hello: Hello, rest: Listened, load: Load): Next | null {
  const flows = proof.listened[load];
  if (flows === undefined) return { do: 'listen', step: load };
  const meter_A = amperes(proof, load);
  if (meter_A === undefined) return read(`${load}_A`);
  const jumps = ofJumps(proof, flows);
  if (jumps !== null) return jumps;
  if (meter_A < SOME_A) return end('no-current');
  const share = shareOf(flows, rest, meter_A);
  if (share < -NOTHING) return end('sense-swapped');
  if (Math.abs(share - 1) <= gainLimit(hello, meter_A)) return null;
  const shunt_mV = proof.meter.shunt_mV;
  if (shunt_mV === undefined) return read('shunt_mV');
  const nominal_mV = (meter_A * hello.shunt_nOhm) / 1e6;
  const truly = shunt_mV / nominal_mV;
  if (share < NOTHING) return end(truly < NO_SHUNT ? 'past-shunt' : 'sense-open');
  if (Math.abs(truly - 1) > shuntLimit(shunt_mV)) return end('shunt');
  return end(share > 1 ? 'bolts' : 'filter');
}

/** The three currents beside each other: the range must change, and nothing else with it. */
function ofRanges(proof: Proof, hello: Hello): Next | null {
  const rest = proof.listened.rest!;
  const shares = LOADS.map((load) => shareOf(proof.listened[load]!, rest, amperes(proof, load)!));
  for (const [i, a] of LOADS.entries())
    for (const [j, b] of LOADS.entries())
      if (Math.abs(shares[i]! - shares[j]!) > bendLimit(amperes(proof, a)!, amperes(proof, b)!)) return end('range');
  if (hello.sensor === 'ina226') return null;
  const { both, series } = proof.listened;
  const isWide = both!.wide === both!.windows;
  return (both!.mean_mA > wideFrom_mA(hello) && !isWide) ||
    (series!.mean_mA < wideFrom_mA(hello) / 2 && series!.wide > 0)
    ? end('range')
    : null;
}

function ofJumps({ meter }: Proof, { least_mA, most_mA, mean_mA }: Listened): Next | null {
  const size_mA = Math.max(Math.abs(mean_mA), Math.abs(most_mA), Math.abs(least_mA));
  if (most_mA - least_mA <= JUMP_SHARE * size_mA || size_mA < SOME_A * 1000) return null;
  if (meter.jumps === undefined) return read('jumps');
  return end(meter.jumps > 0 ? 'thick-joint' : 'sense-joint');
}

/** While nothing flows: zero, noise, voltage, temperature, time. */
function ofRest(proof: Proof, hello: Hello, rest: Listened): Next | null {
  if (Math.abs(rest.mean_mA) > zeroLimit_mA(hello)) return end(rest.mean_mA > OWN_DRAW_MA ? 'ground-lead' : 'zero');
  if (rest.noise_mA > noiseLimit_mA(hello)) return end('noise');
  return ofVoltage(proof, rest) ?? ofWarmth(proof, rest) ?? ofClock(proof);
}

function ofVoltage({ meter }: Proof, { bus_V }: Listened): Next | null {
  const clamps_V = meter.clamps_V!;
  if (bus_V === null || bus_V < clamps_V / 2) return end('voltage-open');
  const low_V = clamps_V - bus_V;
  if (Math.abs(low_V) <= VOLTAGE_ASKED_V) return null;
  if (meter.voltageLead_mV === undefined) return read('voltageLead_mV');
  if (meter.voltageLead_mV > VOLTAGE_LEAD_LIMIT_MV) return end('voltage-low');
  return Math.abs(low_V) > voltageLimit_V(clamps_V) ? end('voltage') : null;
}

function ofWarmth({ meter }: Proof, { chip_C }: Listened): Next | null {
  if (chip_C === null || chip_C < WARM_ASKED_C) return null;
  if (meter.room_C === undefined) return read('room_C');
  return chip_C - meter.room_C > WARM_LIMIT_K ? end('warm') : null;
}

/** What is off goes on to be; what only seemed so is found out by a longer look. */
function ofClock({ told: { clock }, listened }: Proof): Next | null {
  if (clock === null) return null;
  const off_s = Math.abs(clock.board_s - clock.host_s) - clock.doubt_s;
  if (off_s <= CLOCK_LIMIT * clock.host_s) return null;
  return listened.clock === undefined ? { do: 'listen', step: 'clock' } : end('clock');
}

function sound(proof: Proof, hello: Hello, rest: Listened): Next {
  const share = Math.max(
    ...LOADS.map((load) => Math.abs(shareOf(proof.listened[load]!, rest, amperes(proof, load)!) - 1)),
  );
  const within = { share, zero_mA: Math.abs(rest.mean_mA) };
  if (proof.stored === null) return { do: 'store', within };
  return proof.stored ? { do: 'end', mistake: null, within } : end('store');
}
