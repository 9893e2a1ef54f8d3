// Preparing and connecting, as a list that is worked through. Each item says what the
// program can see of it, and says "cannot tell" where it sees nothing.

import type { Level } from './level.ts';

export type Seen = 'yes' | 'no' | 'cannot tell';

export interface PreparationItem {
  id: 'battery' | 'bonnet' | 'latches' | 'doors' | 'key' | 'charger' | 'bridge-on' | 'board-in' | 'bridge-off' | 'circuit-whole' | 'asleep';
  text: string;
  /** Stands beside the item, where the hand is. */
  caution: string | null;
}

export const PREPARATION: readonly PreparationItem[] = [
  { id: 'battery', text: 'Battery charged and tested; terminals clean and tight.', caution: 'Eye protection. No flame, no spark: a battery gives off hydrogen.' },
  { id: 'bonnet', text: 'Bonnet open, its switch held down or unplugged.', caution: null },
  { id: 'latches', text: 'Latches of open doors, bonnet and tailgate closed by hand with a screwdriver, so that the car takes them for shut.', caution: 'Pull each handle to open the latch again before that door is shut.' },
  { id: 'doors', text: 'Boxes and connectors that you need are reached without opening a door.', caution: null },
  { id: 'key', text: 'Key at least 1.5 m away, better in a metal tin; car locked.', caution: null },
  { id: 'charger', text: 'Nothing else on the battery: no charger, no diagnostic lead. The computer on its own battery.', caution: 'An earthed charger on the computer leads current past the board: the reading falls low.' },
  { id: 'bridge-on', text: 'Bridge between negative post and negative cable.', caution: 'Bridge first, then the cable. A broken circuit starts every time-out anew and may hide the fault.' },
  { id: 'board-in', text: 'Cable off the post, board in between: battery side to the post.', caution: 'Never crank, never switch the ignition on through the board. It burns.' },
  { id: 'bridge-off', text: 'Bridge off, with everything quiet.', caution: 'Bridge on again before a fuse goes in or a door is opened.' },
  { id: 'circuit-whole', text: 'The circuit was never broken.', caution: null },
  { id: 'asleep', text: 'The car has gone to sleep: 15 to 30 minutes, by the maker up to an hour or more.', caution: null },
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
/** A level this high just after connecting is a car that has just been woken: about 500 mA for up to 5 min (Ford TSB 02-13-9). */
const FRESH_mA = 300;
const HELD_s = 600;
const ASLEEP_mA = 150;

/** What can be said of an item from the readings. */
export function sightOf(id: PreparationItem['id'], readings: PreparationReadings): ItemSight {
  const { battery_V, bridged, bridgeOff, now, held_s } = readings;
  switch (id) {
    case 'battery':
      if (battery_V === null) return unknown('the board has not read the voltage yet');
      return battery_V >= CHARGED_V ? { seen: 'yes', text: `${battery_V.toFixed(2)} V. That it was tested, the program cannot see.` } : { seen: 'no', text: `${battery_V.toFixed(2)} V is less than three quarters full; charge and test it first.` };
    case 'board-in':
    case 'bridge-off':
      return bridgeSight(bridged, bridgeOff);
    case 'circuit-whole':
      if (bridgeOff === null || now === null) return unknown('the bridge is not off yet');
      if (bridgeSight(bridged, bridgeOff).seen === 'no') return bridgeSight(bridged, bridgeOff);
      if (bridgeOff.mean_mA > FRESH_mA && now.mean_mA < bridgeOff.mean_mA / 2) return { seen: 'no', text: 'a fresh staircase: the car was woken just then, so the circuit was open for a moment or something was opened. Wait for it to sleep again.' };
      if (bridgeOff.mean_mA > FRESH_mA) return unknown(`awake at ${bridgeOff.mean_mA.toFixed(0)} mA; if it falls soon, a break woke it`);
      return { seen: 'yes', text: 'the car did not wake when the board came in.' };
    case 'asleep':
      if (now === null) return unknown('no level yet');
      if (held_s >= HELD_s && now.mean_mA < ASLEEP_mA) return { seen: 'yes', text: `${now.mean_mA.toFixed(0)} mA for ${(held_s / 60).toFixed(0)} min.` };
      return held_s >= HELD_s ? unknown(`${now.mean_mA.toFixed(0)} mA for ${(held_s / 60).toFixed(0)} min: asleep with a large draw, or kept awake`) : { seen: 'no', text: `the level has held for ${(held_s / 60).toFixed(0)} of 10 min.` };
    default:
      return unknown('only you can see that');
  }
}

function bridgeSight(bridged: Level | null, off: Level | null): ItemSight {
  if (off === null) return unknown('the bridge is not off yet');
  if (off.mean_mA < -RISE_mA) return { seen: 'no', text: `${off.mean_mA.toFixed(0)} mA: the board's two clamps are swapped. Bridge on, turn the board round.` };
  if (bridged === null) return unknown('there was no reading with the bridge on');
  const rise = off.mean_mA - bridged.mean_mA;
  if (rise > RISE_mA && off.mean_mA > RISE_SHARE * bridged.mean_mA) return { seen: 'yes', text: `the reading rose from ${bridged.mean_mA.toFixed(0)} to ${off.mean_mA.toFixed(0)} mA when the bridge came off.` };
  if (off.mean_mA < RISE_mA) return unknown('next to nothing flows: a car that draws nothing, a bridge still on, or a clamp without contact');
  return { seen: 'no', text: 'the reading did not rise: the bridge is still on, or something else leads current past the board.' };
}

const unknown = (text: string): ItemSight => ({ seen: 'cannot tell', text });
