// The worst that each part has to bear, derived from given.ts and from the nets it is on, and
// the margin that its rating must leave above it.
import * as given from './given.ts';
import { written } from './shape.ts';
import type { Circuit, Part, Ratings } from './shape.ts';

type Rating = keyof Ratings;

/** A rating is at least so many times the worst case. Ours; common practice, no source. */
export const MARGINS: Readonly<Record<Rating, number>> = {
  voltage_V: 1.25,
  current_A: 1.25,
  power_W: 1.5,
  energy_J: 2,
  // The data sheet's own margin to what destroys the chip stands above the recommended supply.
  supply_V: 1,
  breaking_A: 1.1,
};

export /** USB 2.0 as amended in 2014: what a port may give. */
const USB_MAX_V = 5.5;

interface Worst {
  size: number;
  because: string;
}

type Explicit = Readonly<Record<string, Partial<Record<Rating, Worst>>>>;

const BURST: Worst = { size: given.USB_W, because: 'full speed USB into 50 pF: C V² f' };
const INPUT: Partial<Record<Rating, Worst>> = {
  power_W: {
    size: given.BODY_BELOW_A ** 2 * given.INPUT_OHM,
    because: 'F4 open, the generator on: (2 V − 0.74 V) / 10 Ω through it',
  },
};
const CLAMP: Partial<Record<Rating, Worst>> = {
  current_A: { size: given.CRANKING_INPUT_A, because: 'cranking: (1 V − 0.5 V) / 20 Ω' },
  voltage_V: { size: given.CLAMPED_V, because: 'the other one holds 0.5 V' },
};
const PIN: Partial<Record<Rating, Worst>> = {
  power_W: { size: 0.15 ** 2 / given.PIN_OHM, because: 'what D6 and D7 leave, less what the chip holds: 0.15 V' },
};
const TO_GROUND: Partial<Record<Rating, Worst>> = {
  voltage_V: { size: given.CRANKING_V, because: 'cranking: 200 A x 5 mΩ' },
  power_W: { size: given.BODY_BELOW_W, because: 'F4 open, the generator on: forward' },
};

/** What no rule below derives. */
const EXPLICIT: Explicit = {
  F4: {
    voltage_V: {
      size: given.LOAD_DUMP_V - given.BATTERY_MIN_V,
      because: 'open, while a load dump draws the body away from the post of an empty battery',
    },
  },
  R1: { power_W: { size: given.CAR_MAX_A ** 2 * given.SHUNT_OHM, because: '30 A through 5 mΩ' } },
  R5: INPUT,
  R6: INPUT,
  R14: {
    power_W: { size: given.BATTERY_MAX_V ** 2 / given.VBUS_SERIES_OHM, because: 'swapped clamps on 16 V' },
  },
  R15: PIN,
  R16: PIN,
  R7: {
    power_W: { size: given.BOARD_A ** 2 * given.SUPPLY_OHM, because: 'what the board draws, all night' },
    energy_J: {
      size: (given.FUSE_OPENS.times * given.F1_A) ** 2 * given.SUPPLY_OHM * given.FUSE_OPENS.within_s,
      because: 'a short behind it: 2.75 times F1 until that opens, 2 s',
    },
  },
  R8: { power_W: { size: given.LIGHT_A ** 2 * given.LIGHT_OHM, because: 'D4 lit' } },
  R10: { power_W: BURST },
  R11: { power_W: BURST },
  R12: { power_W: BURST },
  R13: { power_W: BURST },
  D1: {
    voltage_V: { size: given.BATTERY_MAX_V, because: 'a battery that is charged: D1 must not conduct' },
    power_W: { size: given.SURGE_W, because: 'load dump of 35 V through R7, over the 120 ms in which it halves' },
  },
  D2: CLAMP,
  D3: CLAMP,
  D5: {
    current_A: { size: given.BATTERY_MAX_V / given.VBUS_SERIES_OHM, because: 'swapped clamps on 16 V, through R14' },
    voltage_V: { size: given.LOAD_DUMP_V, because: 'load dump' },
  },
  D6: TO_GROUND,
  D7: TO_GROUND,
  D4: { current_A: { size: given.LIGHT_A, because: '5.1 V less 1.8 V over 1 kΩ' } },
  U1: { voltage_V: { size: given.LOAD_DUMP_V, because: 'VBUS, behind R14 alone: load dump' } },
  M1: { voltage_V: { size: given.LOAD_DUMP_V, because: 'VBUS: load dump' } },
  U3: {
    voltage_V: { size: given.SURGE_V, because: 'what D1 leaves of the load dump' },
    current_A: { size: given.FIVE_VOLT_A, because: 'all chips, the light, all pull-ups low' },
    power_W: {
      size: (given.BATTERY_MAX_V - 5) * given.FIVE_VOLT_A + given.BATTERY_MAX_V * given.REGULATOR_A,
      because: '16 V to 5 V, and what it takes itself',
    },
  },
  S1: {
    voltage_V: { size: given.SUPPLY_MAX_V, because: 'RESET held up by R9' },
    current_A: { size: given.SUPPLY_MAX_V / 10_000, because: 'R9' },
  },
};

/** The worst case of one rating; null where nobody has derived it, which the check refuses. */
export function worstOf(circuit: Circuit, part: Part, rating: Rating): Worst | null {
  const explicit = EXPLICIT[part.ref]?.[rating];
  if (explicit !== undefined) return explicit;
  const nets = part.pins.flatMap((pin) => circuit.nets.filter((net) => net.name === part.on[pin.number]));
  if (rating === 'supply_V') {
    const size = Math.max(
      given.SUPPLY_MAX_V,
      ...(part.on['1'] === 'USB_5V' || part.kind === 'module' ? [USB_MAX_V] : []),
    );
    return { size, because: size > given.SUPPLY_MAX_V ? 'a USB port gives up to 5.5 V' : 'U3: 5 V and 2 %' };
  }
  switch (part.kind) {
    case 'capacitor':
      return {
        size: sum(nets.map((net) => net.voltage_V)),
        because: nets.map((net) => `${net.name} ${written(net.voltage_V, 'V')}`).join(', '),
      };
    case 'fuse':
      if (rating === 'voltage_V') return { size: given.LOAD_DUMP_V, because: 'load dump' };
      if (rating === 'breaking_A')
        return { size: given.BATTERY_SHORT_A, because: '12.6 V over 10 mΩ of battery and clamp' };
      return rating === 'current_A' ? { size: nets[0]!.current_A, because: nets[0]!.because } : null;
    case 'terminal':
    case 'connector': {
      const most = nets.toSorted((a, b) => b.current_A - a.current_A)[0]!;
      return { size: most.current_A, because: most.because };
    }
    case 'resistor':
      if (rating !== 'power_W' || part.on['1'] !== '5V') return null;
      return { size: given.SUPPLY_MAX_V ** 2 / part.value!, because: 'held low, at 5.1 V' };
    default:
      return null;
  }
}

const sum = (numbers: number[]) => numbers.reduce((all, one) => all + one, 0);

/**
 * What the board does not bear, and says so: accidents that spoil it. None may hurt anybody, so each
 * says which fuse ends it.
 */
export const NOT_BORNE: readonly { what: string; comes: string; ends: string }[] = [
  {
    what: 'R5, R6: the body far below the post',
    comes:
      'F4 has opened and a generator goes on: 2 V below are borne (D6, D7); 22 V, in a load dump of 35 V, are 2 A through R5 and R6, 40 W in each',
    ends: 'F2 and F3 open; put in new ones, and new R5 and R6',
  },
  {
    what: 'D1, R7, U1: a load dump that nothing limits',
    comes:
      'an old generator without a limit of its own gives 79 to 101 V (ISO 16750-2, test A; memory) when the plus clamp comes off while it runs',
    ends: 'D1 fails as a short, F1 opens through R7; put in new ones',
  },
];
