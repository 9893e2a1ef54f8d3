// The battery and the customer's complaint: the battery's charge from its rested voltage, and how many
// days it lasts, always as a range between two sets of stated assumptions.

import { charge, current, dayCount, dayRange, days, percentRange, voltage } from '../../say/quantities.ts';
import {
  capacityByPower_Ah,
  capacityByRule_Ah,
  chargeFromVoltage_pct,
  daysUntilNoCrank,
  USABLE_SHARE,
  USABLE_SHARE_TYPICAL,
} from './lead-acid.ts';
import type {
  BatteryFindings,
  BatteryTold,
  BatteryType,
  ComplaintCode,
  ComplaintTold,
  Range,
} from '../../contract/meaning.ts';
import type { Volts } from './volts.ts';

/** Taken where the capacity is not told, as most cars have: common practice, no source. */
const USUAL_CAPACITY_AH: Range = { low: 45, high: 80 };
/** A battery in use holds less than its label says: common practice, no source. */
const USED_SHARE = 0.8;
/**
 * Charge that a car in use leaves in its battery, where no rested voltage is known: common practice, no
 * source.
 */
const PARKED_PCT: Range = { low: 85, high: 100 };
/** Uncertainty of a voltage from a hand meter on a battery not quite at rest: common practice, no source. */
const VOLTAGE_SURE_V = 0.05;
/** Above this something charges the battery. Fully charged and rested it has 12.6 to 12.8 V. */
const RESTED_V_MAX = 13;
/** Taken where the temperature is neither told nor measured. */
const UNKNOWN_TEMPERATURE_C: Range = { low: 5, high: 25 };
/** Uncertainty of the chip's temperature: the board is near the battery, not in it. */
const CHIP_SURE_C = 5;
/** Charge of a battery that is already low, and capacity of one that is worn, as shares. Ours, no source. */
const LOW_SHARE = 0.7;
const WORN_SHARE = 0.5;

/** What the car takes from its battery while parked. */
export interface Draw {
  /** Mean while asleep; null where the car was never asleep or the reading is not to be relied on. */
  asleep_mA: number | null;
  going_to_sleep_mAh: number;
  /** True where the last voltage of the recording is a rested one. */
  rested: boolean;
}

/** What the battery holds, Ah; adds to `assumptions` what that rests on. */
function capacityOf(told: BatteryTold, assumptions: string[]): Range {
  if (told.capacity_Ah !== null) {
    assumptions.push(`A used battery holds ${USED_SHARE * 100} to 100 % of the ${told.capacity_Ah} Ah on its label.`);
    return { low: USED_SHARE * told.capacity_Ah, high: told.capacity_Ah };
  }
  if (told.reserve_min !== null) {
    const both = [capacityByRule_Ah(told.reserve_min), capacityByPower_Ah(told.reserve_min)];
    assumptions.push(
      `${told.reserve_min} min of reserve are about ${Math.round(both[0]!)} Ah, of which a used battery holds ${USED_SHARE * 100} to 100 %.`,
    );
    return { low: USED_SHARE * Math.min(...both), high: Math.max(...both) };
  }
  assumptions.push(`No battery given: ${USUAL_CAPACITY_AH.low} to ${USUAL_CAPACITY_AH.high} Ah taken.`);
  return USUAL_CAPACITY_AH;
}

/** Temperature of the parked battery; adds to `assumptions` what that rests on. */
function temperatureOf(told: BatteryTold, volts: Volts | null, assumptions: string[]): Range {
  if (told.temperature_C !== null) return { low: told.temperature_C, high: told.temperature_C };
  const chip = volts?.temperature_C;
  if (chip) {
    assumptions.push(
      `Temperature as the board's chip had it, ${Math.round(chip.median)} °C, give or take ${CHIP_SURE_C}.`,
    );
    return { low: chip.median - CHIP_SURE_C, high: chip.median + CHIP_SURE_C };
  }
  assumptions.push(`No temperature given: ${UNKNOWN_TEMPERATURE_C.low} to ${UNKNOWN_TEMPERATURE_C.high} °C taken.`);
  return UNKNOWN_TEMPERATURE_C;
}

/** The charge that a rested voltage stands for, give or take its uncertainty. */
function chargeRange_pct(type: BatteryType, rested_V: number): Range {
  return {
    low: chargeFromVoltage_pct(type, rested_V - VOLTAGE_SURE_V),
    high: chargeFromVoltage_pct(type, rested_V + VOLTAGE_SURE_V),
  };
}

/**
 * Days until the engine may not crank, from the worse to the better end of all ranges; null where
 * nothing drains it.
 */
function daysOf(
  type: BatteryType,
  capacity_Ah: Range,
  charge_pct: Range,
  temperature_C: Range,
  draw_mA: number,
  once_mAh: number,
): Range | null {
  const usable = USABLE_SHARE[type];
  const of = (end: 'low' | 'high') => {
    const every = [temperature_C.low, temperature_C.high].map((C) =>
      daysUntilNoCrank({
        capacity_Ah: capacity_Ah[end],
        usable_share: usable[end],
        charge_share: charge_pct[end] / 100,
        temperature_C: C,
        draw_mA,
        once_mAh,
        selfDischarge: true,
      }),
    );
    if (every.some((d) => d === null)) return null;
    return end === 'low' ? Math.min(...(every as number[])) : Math.max(...(every as number[]));
  };
  const [low, high] = [of('low'), of('high')];
  return low === null || high === null ? null : { low, high };
}

function batterySentence(f: Omit<BatteryFindings, 'sentence'>, told: BatteryTold, measured_V: number | null): string {
  const parts: string[] = [];
  const addCharge = (pct: Range | null, when: string, rested_V: number | null) => {
    if (pct !== null && rested_V !== null)
      parts.push(`${voltage(rested_V)} ${when}: state of charge ${percentRange(pct)}`);
  };
  addCharge(f.charge_before_pct, 'before the night', told.before_V);
  addCharge(f.charge_after_pct, 'after the night', told.after_V ?? measured_V);
  const draw = f.draw_mA === null ? '' : ` at ${current(f.draw_mA)}`;
  if (f.days !== null) {
    parts.push(
      f.days.high < 0.25
        ? 'so low that the engine may not crank now'
        : `parked${draw}, the engine may not crank after ${dayRange(f.days)}`,
    );
  } else if (f.draw_mA === null) parts.push('how long it lasts cannot be said from this recording');
  const sentences = parts.map((text) => `${text[0]!.toUpperCase()}${text.slice(1)}.`);
  return sentences.length === 0 ? 'Nothing drains this battery.' : sentences.join(' ');
}

/**
 * What is known about the battery: its charge, and how many days it lasts, with every assumption made on
 * the way. O(1).
 *
 * @param told what somebody said about it
 * @param volts what was measured beside the current; null where nothing was
 * @param draw what the car takes while parked
 */
export function batteryOf(told: BatteryTold, volts: Volts | null, draw: Draw): BatteryFindings {
  const assumptions: string[] = [];
  const type = told.type ?? 'flooded';
  if (told.type === null) assumptions.push('No type given: flooded taken.');
  const capacity_Ah = capacityOf(told, assumptions);
  const temperature_C = temperatureOf(told, volts, assumptions);
  const measured_V = volts?.sane && draw.rested && volts.end_V <= RESTED_V_MAX ? volts.end_V : null;
  const after_V = told.after_V ?? measured_V;
  const charge_before_pct = told.before_V === null ? null : chargeRange_pct(type, told.before_V);
  const charge_after_pct = after_V === null ? null : chargeRange_pct(type, after_V);
  if (charge_before_pct !== null || charge_after_pct !== null)
    assumptions.push(
      'A voltage tells the charge only after hours of rest. Surface charge makes it read too high: 15 s of headlamps, then 5 min of rest, take it off.',
    );
  const start_pct = charge_after_pct ?? charge_before_pct ?? PARKED_PCT;
  if (start_pct === PARKED_PCT)
    assumptions.push(`No charge when parked given: ${PARKED_PCT.low} to ${PARKED_PCT.high} % taken.`);
  const usable = USABLE_SHARE[type];
  assumptions.push(
    `The engine may not crank once ${usable.low * 100} to ${usable.high * 100} % of the capacity is used; in frost sooner.`,
  );
  assumptions.push(
    'It loses 0.5 % a day by itself at 20 °C, twice that per 10 °C more, and 0.6 % of its capacity per °C under 25.',
  );
  const found = {
    type,
    capacity_Ah,
    charge_before_pct,
    charge_after_pct,
    volts:
      volts === null || !volts.sane ? null : { start_V: volts.start_V, end_V: volts.end_V, lowest_V: volts.lowest_V },
    temperature_C,
    days:
      draw.asleep_mA === null
        ? null
        : daysOf(
            type,
            capacity_Ah,
            start_pct,
            temperature_C,
            draw.asleep_mA,
            charge_after_pct === null ? draw.going_to_sleep_mAh : 0,
          ),
    draw_mA: draw.asleep_mA,
    assumptions,
  };
  return { ...found, sentence: batterySentence(found, told, measured_V) };
}

/**
 * Days until a battery that is low, or one that is worn, is empty, whichever comes first; null where
 * nothing drains it.
 */
function weakDays(battery: BatteryFindings, draw_mA: number): number | null {
  const of = (capacity_Ah: number, charge_share: number) =>
    daysUntilNoCrank({
      capacity_Ah,
      charge_share,
      usable_share: USABLE_SHARE_TYPICAL,
      temperature_C: battery.temperature_C.low,
      draw_mA,
      once_mAh: 0,
      selfDischarge: true,
    });
  const low = of(battery.capacity_Ah.low, LOW_SHARE);
  const worn = of(WORN_SHARE * battery.capacity_Ah.high, PARKED_PCT.low / 100);
  return low === null || worn === null ? null : Math.min(low, worn);
}

/** What to do next, by the answer to the complaint. */
const NEXT: Record<ComplaintCode, string> = {
  explains:
    'Find what draws, repair it, and measure another night; then charge and test the battery, which has been run flat.',
  'may-explain': 'Charge and test the battery to know which end of the range holds; find what draws.',
  'only-low-or-worn':
    'Charge and test the battery first, then look at the charging system and at short trips; the draw alone is not enough.',
  'does-not-explain':
    'Charge and test the battery, check the charging system, cables and starter; record a longer time, as the customer parks.',
  'cannot-tell': 'Record a whole night in which the car falls asleep, with the reading believed; then ask again.',
};

function complaintSentence(
  code: ComplaintCode,
  N: number,
  draw_mA: number,
  sound: Range | null,
  weak: number | null,
): string {
  const range = sound === null ? '' : dayRange(sound);
  const dead = `"dead after ${days(N)}"`;
  const took = `${current(draw_mA)} take ${charge(draw_mA * 24 * N)} in ${days(N)}`;
  switch (code) {
    case 'explains':
      return `The draw explains ${dead}: ${took}; this battery, sound and charged, lasts ${range}.`;
    case 'may-explain':
      return `The draw may explain ${dead}: ${took}; this battery, sound and charged, lasts ${range}.`;
    case 'only-low-or-worn':
      return `The draw explains ${dead} only with a battery already low or worn, which lasts about ${days(dayCount(weak!))}: ${took}; sound and charged it lasts ${range}.`;
    case 'does-not-explain':
      return sound === null
        ? `The draw does not explain ${dead}: nothing drains this battery.`
        : `The draw does not explain ${dead}: ${took}; this battery, sound and charged, lasts ${range}, and low or worn still about ${days(dayCount(weak!))}.`;
    case 'cannot-tell':
      return `Whether the draw explains ${dead} cannot be said from this recording.`;
  }
}

/**
 * Whether the measured draw explains that the car was dead after `dead_after_days` days. The battery is
 * judged as sound and charged first, then as low or worn. O(1).
 */
export function complaintOf(dead_after_days: number, battery: BatteryFindings): ComplaintTold {
  const { draw_mA, type, capacity_Ah, temperature_C } = battery;
  const sound = draw_mA === null ? null : daysOf(type, capacity_Ah, PARKED_PCT, temperature_C, draw_mA, 0);
  const weak = draw_mA === null ? null : weakDays(battery, draw_mA);
  const code = ((): ComplaintCode => {
    if (draw_mA === null) return 'cannot-tell';
    if (sound === null || weak === null) return 'does-not-explain';
    if (dead_after_days >= sound.high) return 'explains';
    if (dead_after_days >= sound.low) return 'may-explain';
    return dead_after_days >= weak ? 'only-low-or-worn' : 'does-not-explain';
  })();
  return {
    dead_after_days,
    code,
    sound_days: sound,
    weak_days: weak,
    sentence: complaintSentence(code, dead_after_days, draw_mA ?? 0, sound, weak),
    next: NEXT[code],
  };
}
