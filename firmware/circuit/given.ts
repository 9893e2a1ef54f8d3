// The numbers that the worst cases are worked out from, each with its source, and what follows
// from several of them. `memory`: known from the trade, written without a source at hand.

/** Data sheet TLE4264G: 5 V, 2 % at most. */
export const SUPPLY_MAX_V = 5.1;
/** A 12 V battery while it is charged: ISO 16750-2, highest supply of a 12 V system (memory). */
export const BATTERY_MAX_V = 16;
/** Empty, and a fuse must still open then (practice). */
export const BATTERY_MIN_V = 10.5;
/** Load dump with a generator that limits itself: ISO 16750-2, test B (memory). */
export const LOAD_DUMP_V = 35;
/** How long the load dump takes to halve: 400 ms from 90 to 10 %, exponential (ISO 16750-2; memory). */
export const LOAD_DUMP_HALF_S = 0.12;
/** Right behind a clamp: 12.6 V over some 10 mΩ of battery and clamp (memory). */
export const BATTERY_SHORT_A = 12.6 / 0.01;

/** BOARD.md, "Limits": 30 A for as long as the shunt bears it; more opens F4 sooner or later. */
export const CAR_MAX_A = 30;
export const SHUNT_OHM = 0.005;
/** BOARD.md, "Clamping on": cranking takes 200 A and more, 1 V over the shunt. */
export const CRANKING_V = 200 * SHUNT_OHM;
/** What D2 or D3 leaves of it at most: BAT85, data sheet of 1996, 0.5 V at 30 mA. */
export const CLAMPED_V = 0.5;
export const INPUT_OHM = 10;
/** Between what D2, D3, D6 and D7 leave and the chip: keeps what a pin takes beyond its limits small. */
export const PIN_OHM = 47;
/** INA238, "Electrical characteristics", of the same family as the INA228: 0.8 to 1.2 MΩ at VBUS. */
export const VBUS_OHM = 1e6;
/** Before it: 0.2 % of the voltage. */
export const VBUS_SERIES_OHM = 2200;
/** What flows through R5, the diodes and R6 while somebody cranks. */
export const CRANKING_INPUT_A = (CRANKING_V - CLAMPED_V) / (2 * INPUT_OHM);

/** F4 open, the generator on: the body below the post while it regulates (BOARD.md, "When somebody cranks"). */
export const BODY_BELOW_V = 2;
/** What D6 and D7 leave of it, forward (a suppressor of 600 W at some 0.1 A; memory). */
const FORWARD_V = 0.74;
export const BODY_BELOW_A = (BODY_BELOW_V - FORWARD_V) / INPUT_OHM;
export const BODY_BELOW_W = FORWARD_V * BODY_BELOW_A;

export const PULL_UP_OHM = 2200;
export const LIGHT_OHM = 1000;
/** A red light's forward voltage (memory). */
export const LIGHT_V = 1.8;
export const LIGHT_A = (SUPPLY_MAX_V - LIGHT_V) / LIGHT_OHM;

/** What each chip takes from the 5 V. */
export const DRAW_A = {
  /** SLYS021A: 0.64 mA typical, taken as 1 mA. */
  U1: 0.001,
  /** DS40002061, active supply current against frequency: 9.5 mA typical at 16 MHz, half as much again. */
  U2: 0.015,
  /** DS_FT232R: 15 mA typical while it works, half as much again. */
  U4: 0.0225,
  /** ADuM3160 rev. C, table 1: 8 mA at most on each side at full speed. */
  U5: 0.008,
};
/** Pull-ups of SDA and SCL held low, ALERT and RESET (10 kΩ each) held low. */
const PULLED_A = 2 * (SUPPLY_MAX_V / PULL_UP_OHM) + 2 * (SUPPLY_MAX_V / 10_000);
export const FIVE_VOLT_A = DRAW_A.U1 + DRAW_A.U2 + DRAW_A.U4 + DRAW_A.U5 + LIGHT_A + PULLED_A;
/** TLE4264G: what it takes itself, up to 10 mA at 120 mA out; 5 mA at half of that (memory). */
export const REGULATOR_A = 0.005;
export const BOARD_A = FIVE_VOLT_A + REGULATOR_A;

export const SUPPLY_OHM = 6.8;
/**
 * SMBJ24A: breaks down at 29.5 V at most, clamps 38.9 V at 15.4 A. In between a straight line, so
 * with R7 before it: I = (35 - 29.5) / (6.8 + 0.61).
 */
const SURGE_OHM = (38.9 - 29.5) / 15.4;
const SURGE_MOST_V = 29.5;
const SURGE_LEAST_V = 26.7;
/** The most current flows through the one that breaks down first. */
export const SURGE_A = (LOAD_DUMP_V - SURGE_LEAST_V) / (SUPPLY_OHM + SURGE_OHM);
export const SURGE_V = SURGE_MOST_V + SURGE_OHM * ((LOAD_DUMP_V - SURGE_MOST_V) / (SUPPLY_OHM + SURGE_OHM));
export const SURGE_W = SURGE_A * (SURGE_LEAST_V + SURGE_OHM * SURGE_A);

/** Clamps swapped: D1 conducts forward with 1 V, R7 takes the rest, until F1 opens. */
export const SWAPPED_V = 1;
export const F1_A = 0.5;
/** IEC 60127-2, quick-acting: opens within 2 s at 2.75 times its rating (memory). */
export const FUSE_OPENS = { times: 2.75, within_s: 2 };
/** A fuse may carry this many times its rating for an hour (ISO 8820, IEC 60127; memory). */
export const FUSE_HOLDS_TIMES = 1.35;

/** Full speed USB into 50 pF: what the series resistors turn to heat, C V² f. */
export const USB_W = 50e-12 * 3.6 ** 2 * 12e6;

/**
 * Ohms of a cold fuse and A²s until it melts. 0.5 and 1 A: data sheet of quick-acting fuses of 5 x 20 mm
 * to IEC 60127-2 (0.27 and 0.13 Ω; 0.18 and 0.60 A²s). 40 A bolted: 2 mΩ and 4000 A²s (memory).
 */
export const FUSES: Readonly<Record<string, { cold_Ohm: number; melts_A2s: number }>> = {
  '0.5': { cold_Ohm: 0.27, melts_A2s: 0.18 },
  '1': { cold_Ohm: 0.13, melts_A2s: 0.6 },
  '40': { cold_Ohm: 0.002, melts_A2s: 4000 },
};
