// Preparing and connecting, as a list that is worked through. Each item says what the
// program can see of it, and says "cannot tell" where it sees nothing.

import { current, time, voltage } from '../../say/quantities.ts';
import { CAUTIONS } from '../../say/cautions.ts';
import type { Level } from '../search/level.ts';

export type Seen = 'yes' | 'no' | 'cannot tell';

const {
  maker,
  body,
  frozen,
  hybrid,
  hybridCharges,
  earthedCharger,
  lockedOut,
  bridgeFirst,
  neverStart,
  nobodyStarts,
  bridgeAgain,
} = CAUTIONS;

/** @param cautions stand beside the item, where the hand is */
const item = <I extends string>(id: I, text: string, ...cautions: string[]) => ({ id, text, cautions });

/**
 * Key: 1.5 m is within reach of keyless entry; how far is enough, the maker says (memory). Bonnet
 * switch: unplugged it may read open (memory); a published workshop article closes it instead.
 */
export const PREPARATION = [
  item('battery', 'Battery tested and charged; terminals clean and tight.', maker.text, body.text, frozen.text),
  item('bonnet', 'Bonnet open, its switch held closed, not unplugged.'),
  item(
    'latches',
    'Latches of open doors, bonnet and boot closed by hand with a screwdriver, so that the car takes them for shut.',
    'Pull each handle to open the latch again before that door is shut.',
    lockedOut.text,
  ),
  item('doors', 'Boxes and connectors that you need are reached without opening a door.'),
  item('key', 'Key several metres away, or as the maker says; car locked.'),
  item(
    'charger',
    'Nothing else on the battery: no charger, no charging lead, no diagnostic lead. The computer on its own battery.',
    hybrid.text,
    hybridCharges.text,
    earthedCharger.text,
  ),
  item(
    'bridge-on',
    'Bridge between negative post and negative cable.',
    bridgeFirst.text,
    'A broken circuit starts every time-out anew and may hide the fault.',
  ),
  item(
    'board-in',
    'Cable off the post, board in between: battery side to the post.',
    neverStart.text,
    nobodyStarts.text,
  ),
  item('bridge-off', 'Bridge off, with everything quiet.', bridgeAgain.text),
  item('circuit-whole', 'The circuit was never broken.'),
  item('asleep', 'The car has gone to sleep: 15 to 30 minutes, by the maker up to an hour or more.'),
];

/** What the live reading has shown so far. Null where there is nothing yet. */
export interface PreparationReadings {
  /** At rest, before anything. */
  battery_V: number | null;
  /** With the bridge on and the board in. */
  bridged: Level | null;
  /** From the moment the bridge came off. */
  bridgeOff: Level | null;
  /** The level now. */
  now: Level | null;
  /** How long the level now has held, seconds. */
  held_s: number;
}

export interface ItemSight {
  seen: Seen;
  text: string;
}

/** Charged enough to measure on: flooded, rested, 75 % (autobatteries.com "voltage" basics). */
const CHARGED_V = 12.4;
/** A bridge of a few milliohms beside the shunt of 5 leaves the board at most about half. */
const RISE_SHARE = 1.3;
const RISE_mA = 5;
/**
 * A level this high just after connecting is a car that has just been woken: about 500 mA for up to 5 min (a carmaker's
 * bulletin, 2002).
 */
const FRESH_mA = 300;
const HELD_s = 600;
const ASLEEP_mA = 150;

/** What can be said of an item from the readings. */
export function sightOf(id: (typeof PREPARATION)[number]['id'], readings: PreparationReadings): ItemSight {
  const { battery_V, bridged, bridgeOff, now, held_s } = readings;
  switch (id) {
    case 'battery':
      if (battery_V === null) return unknown('the board has not read the voltage yet');
      return battery_V >= CHARGED_V
        ? yes(`${voltage(battery_V)}. That it was tested, the program cannot see.`)
        : no(`${voltage(battery_V)} is less than three quarters full; charge and test it first.`);
    case 'board-in':
    case 'bridge-off':
      return bridgeSight(bridged, bridgeOff);
    case 'circuit-whole':
      if (bridgeOff === null || now === null) return unknown('the bridge is not off yet');
      if (bridgeSight(bridged, bridgeOff).seen === 'no') return bridgeSight(bridged, bridgeOff);
      if (bridgeOff.mean_mA > FRESH_mA && now.mean_mA < bridgeOff.mean_mA / 2)
        return no(
          'a fresh staircase: the car was woken just then, so the circuit was open for a moment or something was opened. Wait for it to sleep again.',
        );
      if (bridgeOff.mean_mA > FRESH_mA)
        return unknown(`awake at ${current(bridgeOff.mean_mA)}; if it falls soon, a break woke it`);
      return yes('the car did not wake when the board came in.');
    case 'asleep':
      if (now === null) return unknown('no level yet');
      if (held_s >= HELD_s && now.mean_mA < ASLEEP_mA) return yes(`${current(now.mean_mA)} for ${time(held_s)}.`);
      return held_s >= HELD_s
        ? unknown(`${current(now.mean_mA)} for ${time(held_s)}: asleep with a large draw, or kept awake`)
        : no(`the level has held for ${(held_s / 60).toFixed(0)} of 10 min.`);
    default:
      return unknown('only you can see that');
  }
}

function bridgeSight(bridged: Level | null, off: Level | null): ItemSight {
  if (off === null) return unknown('the bridge is not off yet');
  if (off.mean_mA < -RISE_mA)
    return no(`${current(off.mean_mA)}: the board's two clamps are swapped. Bridge on, turn the board round.`);
  if (bridged === null) return unknown('there was no reading with the bridge on');
  const rise = off.mean_mA - bridged.mean_mA;
  if (rise > RISE_mA && off.mean_mA > RISE_SHARE * bridged.mean_mA)
    return yes(
      `the reading rose from ${current(bridged.mean_mA)} to ${current(off.mean_mA)} when the bridge came off.`,
    );
  if (off.mean_mA < RISE_mA)
    return unknown('next to nothing flows: a car that draws nothing, a bridge still on, or a clamp without contact');
  return no('the reading did not rise: the bridge is still on, or something else leads current past the board.');
}

const sight = (seen: Seen) => (text: string) => ({ seen, text });
const [yes, no, unknown] = [sight('yes'), sight('no'), sight('cannot tell')];
