// What is published about 12 V lead-acid batteries: state of charge from rested voltage, capacity from
// reserve minutes and by temperature, self-discharge, and the days until an engine will not crank. Every
// figure has its source. All functions are O(1).

import type { BatteryType } from '../../contract/meaning.ts';

/**
 * Rested voltage to state of charge. Flooded: 12.6 / 12.4 / 12.2 / 12.0 V = 100 / 75 / 50 / 25 %
 * at 27 degC (autobatteries.com, "voltage" basics); 11.6 V = 0 % is weak (a mailing list's table).
 * AGM: 12.8 / 12.6 / 12.3 / 12.0 V = 100 / 75 / 50 / 25 % (a vehicle maker's service publication);
 * its 0 % is taken from the flooded table, from memory.
 */
const VOLTAGE_TABLE: Record<BatteryType, readonly (readonly [V: number, pct: number])[]> = {
  flooded: [
    [11.6, 0],
    [12.0, 25],
    [12.2, 50],
    [12.4, 75],
    [12.6, 100],
  ],
  agm: [
    [11.6, 0],
    [12.0, 25],
    [12.3, 50],
    [12.6, 75],
    [12.8, 100],
  ],
};

/**
 * Rested voltage per percent of charge: 0.6 V for 75 % of a flooded battery, 0.8 V for 75 % of an AGM
 * one, by the tables above.
 */
export const VOLTS_PER_PCT: Record<BatteryType, number> = { flooded: 0.6 / 75, agm: 0.8 / 75 };

/**
 * State of charge in percent at a rested voltage, by the tables above: linear between rows, 0 and 100
 * beyond them.
 */
export function chargeFromVoltage_pct(type: BatteryType, rested_V: number): number {
  const table = VOLTAGE_TABLE[type];
  if (rested_V <= table[0]![0]) return 0;
  for (let i = 1; i < table.length; i++) {
    const [V0, pct0] = table[i - 1]!;
    const [V1, pct1] = table[i]!;
    if (rested_V <= V1) return pct0 + ((pct1 - pct0) * (rested_V - V0)) / (V1 - V0);
  }
  return 100;
}

/**
 * Capacity as 0.6 x reserve minutes: RC 100 is 60 Ah. Source: a carmaker's information bulletin,
 * second-hand.
 */
export function capacityByRule_Ah(reserve_min: number): number {
  return 0.6 * reserve_min;
}

/**
 * Reserve minutes as 0.83 x Ah^1.17: 55 Ah give 90 min, 60 Ah 99.9 min. Source: centurionbattery.nl
 * knowledge base, second-hand.
 */
export function reserveFromCapacity_min(capacity_Ah: number): number {
  return 0.83 * capacity_Ah ** 1.17;
}

/** Capacity from reserve minutes, as the inverse of `reserveFromCapacity_min`. Source: as there. */
export function capacityByPower_Ah(reserve_min: number): number {
  return (reserve_min / 0.83) ** (1 / 1.17);
}

/**
 * Reserve minutes as 0.7732 x Ah^1.1828 for flooded batteries. Source: EN 50342-1, from memory, so it
 * only serves to check the two formulas above.
 */
export function reserveFromMemory_min(capacity_Ah: number): number {
  return 0.7732 * capacity_Ah ** 1.1828;
}

/**
 * Share of its charge that a battery loses by itself in a day: 0.5 % at 20 degC, doubling for each
 * 10 degC. Source: marshallbatteries.co.nz FAQ.
 */
export function selfDischarge_perDay(temperature_C: number): number {
  return 0.005 * 2 ** ((temperature_C - 20) / 10);
}

/**
 * Capacity over that at 25 degC: 0.6 % less for each degC below, and never under a tenth. Source:
 * velapower.com support, second-hand, 20-h rate.
 */
export function capacityFactor(temperature_C: number): number {
  return Math.max(0.1, 1 + 0.006 * (temperature_C - 25));
}

/**
 * Share of the capacity that may be used before an engine will not crank: about 40 % at 25 degC (a
 * carmaker's information bulletin, second-hand; a newspaper column of 2005 has the same as "below
 * about 60 % of charge"). A small AGM needs 30 % of charge (its maker's page), so may use 70 %. The
 * spread of 10 % around the 40 % is ours, without a source.
 */
export const USABLE_SHARE: Record<BatteryType, { low: number; high: number }> = {
  flooded: { low: 0.3, high: 0.5 },
  agm: { low: 0.4, high: 0.7 },
};
/** The published figure alone. */
export const USABLE_SHARE_TYPICAL = 0.4;

/** A battery in a parked car. */
export interface Parked {
  capacity_Ah: number;
  /** Share of the capacity that may be used, from full. */
  usable_share: number;
  /** Charge at the start, as a share of the capacity. */
  charge_share: number;
  temperature_C: number;
  /** Mean draw while parked. */
  draw_mA: number;
  /** Charge that going to sleep takes, once. */
  once_mAh: number;
  /** False leaves out the battery's own loss, for checks against worked examples. */
  selfDischarge: boolean;
}

/**
 * Days until the engine will not crank: 0 where it would not now, null where nothing drains the battery.
 * Worked example: RC 100 is 60 Ah, 24 Ah to no-start, 40 days at 25 mA without self-discharge at 25 degC.
 */
export function daysUntilNoCrank(parked: Parked): number | null {
  const { capacity_Ah, usable_share, charge_share, temperature_C, draw_mA, once_mAh, selfDischarge } = parked;
  const usable_Ah = capacity_Ah * capacityFactor(temperature_C) * (charge_share - (1 - usable_share)) - once_mAh / 1000;
  const perDay_Ah = (draw_mA * 24) / 1000 + (selfDischarge ? selfDischarge_perDay(temperature_C) * capacity_Ah : 0);
  if (perDay_Ah <= 0) return null;
  return Math.max(0, usable_Ah / perDay_Ah);
}
