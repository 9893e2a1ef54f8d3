// Warnings from the battery voltage: not a 12 V battery, low in charge, or dropping by more than the load
// or the night's charge explains.

import { charge, percentRange, voltage as volt } from '../../../say/quantities.ts';
import { CAUTIONS } from '../../../say/cautions.ts';
import { VOLTS_PER_PCT } from '../lead-acid.ts';
import type { Warning } from '../../../contract/meaning.ts';
import { meanBetween, sourceOhms } from '../volts.ts';
import type { WarningRule, Scene } from './scene.ts';
import { warning } from './scene.ts';

/** State of charge at and below which the battery is low. */
const LOW_PCT = 50;
/** Fall in a night from surface charge and cold alone: common practice, no source. */
const SETTLING_V = 0.1;
/** Fall beyond that and beyond what the charge drawn explains that is too much. */
const SAGGING_V = 0.15;
/** After this long asleep most of the surface charge is gone. */
const SURFACE_CHARGE_S = 3600;
/** Battery and leads have some 10 mOhm; ten times that is no longer sound: common practice, no source. */
const SOUND_OHM = 0.1;

/** `voltage-odd`: the voltage is none of a 12 V battery. */
export const voltageWarning: WarningRule = ({ volts }) => {
  if (volts === null || volts.sane) return null;
  return warning(
    'voltage-odd',
    `The voltage beside the current is ${volt(volts.median_V)}, which no 12 V battery shows.`,
    'See where the voltage lead is clamped; other batteries than 12 V lead-acid ones are not known here.',
    { median_V: volts.median_V },
  );
};

/** `battery-low`: the battery is half charged or less after the night. */
export const lowBatteryWarning: WarningRule = ({ volts, battery }) => {
  const pct = battery.charge_after_pct;
  if (volts?.sane === false || pct === null || (pct.low + pct.high) / 2 > LOW_PCT) return null;
  return warning(
    'battery-low',
    `The battery ended the night at a state of charge of ${percentRange(pct)}.`,
    `Charge it soon: an empty battery sulphates, and freezes in the cold. ${CAUTIONS.frozen.text} Test it, and only then judge the car by its cranking.`,
    { low_pct: pct.low, high_pct: pct.high },
  );
};

const TEST = 'Charge and test the battery, also under load; measure the car again with a battery known to be sound.';

/** `battery-sagging`: the voltage drops too far under wake-ups, or falls too far in the night. */
export const saggingWarning: WarningRule = (scene) => {
  const { volts, voltage, findings } = scene;
  if (volts === null || voltage === null || !volts.sane) return null;
  const ohms = sourceOhms(voltage, findings.wakeups);
  if (ohms !== null && ohms > SOUND_OHM) {
    return warning(
      'battery-sagging',
      `The battery shows ${Math.round(ohms * 1000)} mΩ internal resistance under the car's own wake-ups, many times that of a sound one.`,
      TEST,
      { source_mOhm: ohms * 1000 },
    );
  }
  return voltageFallWarning(scene, volts.end_V);
};

/** The warning for a voltage that falls by more than the charge drawn while asleep explains. */
function voltageFallWarning({ findings, voltage, battery }: Scene, end_V: number): Warning | null {
  const { asleep, trace, charge: bill } = findings;
  const from_s = (asleep?.after_s ?? 0) + SURFACE_CHARGE_S;
  if (voltage === null || trace.duration_s - from_s < SURFACE_CHARGE_S) return null;
  const start_V = meanBetween(voltage.t_s, voltage.voltage_V, from_s - 300, from_s + 300);
  const drawn_mAh = bill.total_mAh - bill.going_to_sleep_mAh;
  const explained_V = Math.max(0, (drawn_mAh / 1000 / battery.capacity_Ah.low) * 100 * VOLTS_PER_PCT[battery.type]);
  const fall_V = start_V - end_V;
  if (!(fall_V > SETTLING_V + SAGGING_V + explained_V)) return null;
  return warning(
    'battery-sagging',
    `The battery fell by ${volt(fall_V)} while asleep, of which the ${charge(drawn_mAh)} drawn explain ${Math.round(explained_V * 1000)} mV: it is worn, or something drains it past the board.`,
    `${TEST} See that every negative cable goes through the board.`,
    { fall_V, drawn_mAh, explained_mV: explained_V * 1000 },
  );
}
