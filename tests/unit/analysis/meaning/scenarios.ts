// Scenario nights: what each is, the verdict's code and the warnings' codes that it
// should have, the facts that its sentence should hold (worked out here by hand from
// what was drawn), and where asked the bill, the cause or the complaint. Invented.

import type { NightMeaning } from '../../../../host/analysis/meaning/interpret.ts';
import { doorOpened, every, H, MIN, stairs } from './scene.ts';
import type { Scene } from './scene.ts';

export interface Scenario extends Scene {
  name: string;
  code: NightMeaning['verdict']['code'];
  warnings: NightMeaning['warnings'][number]['code'][];
  /** Facts that the verdict's sentence holds, as they stand there. */
  says: string[];
  /** Code of the likest cause of the first family or wake-up (or step, with `step`); null for none. */
  cause?: string | null;
  stepCause?: string;
  complaint?: NonNullable<NightMeaning['complaint']>['code'];
  warns?: RegExp;
}

const ASLEEP = 20 * MIN;
const calm = stairs(ASLEEP, 19);
const wakes = every(3000, 34 * MIN, 9 * H, 48, 1881);
/** Sound and charged. */
const sound = { rested_V: (t: number) => 12.65 - 0.002 * (t / H) };
/** Random times, from a list of digits: no period. */
const scattered = [2900, 4700, 5200, 9100, 12_400, 13_000, 17_700, 21_900, 24_800, 30_100];

export const PLAIN: Scenario[] = [
  { name: 'a quiet night', hours: 9, base: calm, code: 'within', warnings: [], says: ['Asleep after 20 min at 19 mA', 'within the 50 mA allowance', 'nothing woke it'] },
  { name: 'one small wake-up', hours: 9, base: calm, bursts: [[15_000, 15_020, 500]], code: 'within', warnings: [], says: ['once, 20 s at 519 mA', '19 mA on average'], cause: null },
  // 15 x 48 x 1881 / 31 200 s = 43.4 mA over 19.
  { name: 'woken every 34 min', hours: 9, base: calm, bursts: wakes, code: 'wakes', warnings: [], says: ['wake-ups lift the average to 62 mA', '15 times, every 34 min, 48 s at 1.9 A'], cause: null },
  { name: 'woken for hours', hours: 9, base: calm, bursts: [[8000, 12_000, 400]], code: 'wakes', warnings: [], says: ['once, 67 min at 419 mA', 'lift the average to 70 mA'], cause: null },
  { name: 'too much all the time', hours: 9, base: stairs(ASLEEP, 90), code: 'over', warnings: [], says: ['at 90 mA, over the 50 mA allowance'] },
  { name: 'something latches on at 02:30', hours: 9, base: [...calm, [2.5 * H, 140]], code: 'over', warnings: [], says: ['at 19 mA', 'from 2.5 h on it drew 140 mA'] },
  { name: 'just over', hours: 9, base: stairs(ASLEEP, 50.3), code: 'over', warnings: [], says: ['at 50.3', 'over the 50 mA allowance'] },
  { name: 'just within', hours: 9, base: stairs(ASLEEP, 49.6), code: 'within', warnings: [], says: ['at 49.6', 'within the 50 mA allowance'] },
  { name: 'never asleep', hours: 5, base: Array.from({ length: 18 }, (_, i) => [i * 1000, 900 * 0.9 ** i] as [number, number]), code: 'awake', warnings: ['stays-awake'], says: ['did not fall asleep in 5.0 h', 'last at 150 mA'] },
  { name: 'too short', hours: 0.3, base: [[0, 900], [300, 400]], code: 'short', warnings: ['too-short'], says: ['Too short to tell: 18 min recorded', 'last at 400 mA'] },
  { name: 'only one hour asleep', hours: 1.5, base: calm, code: 'within', warnings: ['brief'], says: ['Asleep after 20 min'] },
  { name: 'slow to sleep', hours: 9, base: stairs(64 * MIN, 22), code: 'within', warnings: ['slow-to-sleep'], says: ['Asleep after 64 min at 22 mA'] },
  { name: 'slow, as its maker says', hours: 9, base: stairs(64 * MIN, 22), told: { settle_min: 75 }, code: 'within', warnings: [], says: ['Asleep after 64 min at 22 mA'] },
  { name: 'allowance from the reserve', hours: 9, base: stairs(ASLEEP, 30), told: { allowance_mA: 'reserve', reserve_min: 100 }, code: 'over', warnings: [], says: ['at 30 mA, over the 25 mA allowance'] },
  { name: "allowance from the maker's document", hours: 9, base: stairs(ASLEEP, 70), told: { allowance_mA: 85, allowance_source: 'repair manual, page 12' }, code: 'within', warnings: [], says: ['at 70 mA, within the 85 mA allowance'] },
  { name: 'asleep from the start', hours: 9, base: [[0, 12]], code: 'within', warnings: [], says: ['Asleep from the start at 12 mA'] },
];

export const CAUSES: Scenario[] = [
  { name: 'telematics registers', hours: 9, base: calm, bursts: every(2000, 9.5 * MIN, 9 * H, 45, 150), code: 'within', warnings: [], says: ['54 times, every 9.5 min, 45 s at 169 mA'], cause: 'telematics-registration' },
  { name: 'the same shape every 25 min is not the same', hours: 9, base: calm, bursts: every(2000, 25 * MIN, 9 * H, 45, 150), code: 'within', warnings: [], says: ['every 25 min'], cause: null },
  { name: 'telematics on stand-by', hours: 9, base: stairs(ASLEEP, 30), bursts: scattered.map((t) => [t, t + 20, 50]), code: 'within', warnings: [], says: ['10 times, 20 s at 80 mA'], cause: 'telematics-standby' },
  { name: 'a key near the car', hours: 9, base: calm, bursts: scattered.map((t) => [t, t + 3, 100]), code: 'within', warnings: [], says: ['10 times, 3 s at 119 mA'], cause: 'keyless-receiver' },
  { name: 'leak test after 5 h', hours: 9, base: calm, bursts: [[5 * H + 120, 5 * H + 320, 900]], code: 'within', warnings: [], says: ['once, 3.3 min at 919 mA'], cause: 'leak-test-pump' },
  { name: 'leak tests of a hot engine', hours: 11, base: calm, bursts: [[7 * H, 7 * H + 200, 900], [9.5 * H, 9.5 * H + 200, 900]], code: 'within', warnings: [], says: ['twice, 3.3 min at 919 mA'], cause: 'leak-test-pump' },
  { name: 'the same after 3 h is no leak test', hours: 9, base: calm, bursts: [[3 * H, 3 * H + 200, 900]], code: 'within', warnings: [], says: ['once'], cause: null },
  { name: 'leak test at key-off', hours: 9, base: [[0, 400], [3000, 19]], bursts: [[300, 2300, 1000]], code: 'within', warnings: ['slow-to-sleep'], says: ['Asleep after 50 min'], cause: 'leak-test-vacuum' },
  { name: 'climate control half awake', hours: 9, base: [...stairs(ASLEEP, 47), [2.4 * H, 17]], code: 'within', warnings: ['slow-to-sleep'], says: ['Asleep after 2.4 h at 17 mA'], stepCause: 'climate-half-awake' },
  { name: 'security LED', hours: 2.6, base: [[0, 400], [ASLEEP, 40]], bursts: every(ASLEEP, 2.1, 2.6 * H, 0.1, 25), sampling: { step_s: 0.05 }, code: 'within', warnings: [], says: ['at 41 mA'] },
  { name: 'by the clock, on the hour', hours: 9, base: calm, bursts: every(3600 - 10 * MIN, 3600, 9 * H, 30, 800), starts: { hour: 21, minute: 10 }, code: 'within', warnings: [], says: ['9 times, every 60 min, 30 s at 819 mA'], cause: null },
  { name: 'something that stops after two hours', hours: 9, base: calm, bursts: every(1500, 300, 2.3 * H, 20, 700), code: 'within', warnings: [], says: ['23 times, every 5 min, 20 s at 719 mA'], cause: null },
];

const proof = (height_mA: number): [number, number, number][] => [[300, 360, height_mA]];

export const MISREAD: Scenario[] = [
  { name: 'near zero all night', hours: 9, base: [[0, 0.6]], code: 'within', warnings: ['too-low'], says: ['Not to be relied on (near zero all the time)'], warns: /cannot be told/ },
  { name: 'so little after a whole staircase', hours: 9, base: stairs(ASLEEP, 2), code: 'within', warnings: [], says: ['at 2.0 mA'] },
  { name: 'so little, and the proof load shows', hours: 9, base: [[0, 1.5]], bursts: proof(400), told: { proof_mA: 420 }, code: 'within', warnings: [], says: ['at 1.5 mA'] },
  { name: 'the proof load does not show', hours: 9, base: [[0, 0.6]], told: { proof_mA: 420 }, code: 'within', warnings: ['bridge-on'], says: ['the bridge may have been on'] },
  { name: 'a third of the proof load shows', hours: 9, base: [[0, 6]], bursts: proof(130), told: { proof_mA: 420 }, code: 'within', warnings: ['bridge-on'], says: ['the bridge may have been on'], warns: /only 130 mA .* 31 %/ },
  { name: 'the bridge came off at the start', hours: 9, base: [[0, 0.5], [120, 700], [ASLEEP, 19]], code: 'within', warnings: [], says: ['Asleep after 20 min at 19 mA'] },
  { name: 'the bridge came off at five', hours: 9, base: [[0, 0.5], [6 * H, 260], [6.3 * H, 30]], code: 'within', warnings: ['bridge-on'], says: ['the bridge may have been on'] },
  { name: 'clamps swapped, no voltage', hours: 9, base: calm, reads: (mA) => -mA, code: 'within', warnings: ['clamps-swapped'], says: ['the clamps are swapped', '-19 mA'] },
  { name: 'clamps swapped, voltage of a battery at rest', hours: 9, base: [[0, 19]], reads: (mA) => -mA, volts: sound, code: 'within', warnings: ['clamps-swapped'], says: ['the clamps are swapped'] },
  { name: 'negative, and nothing tells why', hours: 9, base: [[0, 60]], reads: (mA) => -mA, code: 'within', warnings: ['negative'], says: ['the current is negative'], warns: /cannot be told/ },
  { name: 'a charger all night', hours: 9, base: [[0, 800]], reads: (mA) => mA - 2000, volts: { rested_V: () => 13.6 }, code: 'within', warnings: ['charger'], says: ['a charger was on', '-1.2 A'] },
  { name: 'a charger from two to five', hours: 9, base: calm, starts: { hour: 21, minute: 0 }, reads: (mA, t) => (t > 5 * H && t < 8 * H ? mA - 1500 : mA), volts: { rested_V: (t) => (t > 5 * H && t < 8 * H ? 13.4 : 12.5) }, code: 'within', warnings: ['charger'], says: ['a charger was on'], warns: /^From 02:00 to 05:0\d/ },
  { name: 'negative for an hour, no voltage', hours: 9, base: calm, reads: (mA, t) => (t > 5 * H && t < 6 * H ? mA - 300 : mA), code: 'within', warnings: ['negative'], says: ['the current is negative'] },
  { name: 'a solar panel from seven on', hours: 16, base: calm, starts: { hour: 20, minute: 0 }, reads: (mA, t) => mA - Math.max(0, Math.min(1, (t - 11 * H) / (3 * H))) * 400, code: 'within', warnings: ['solar'], says: ['a solar panel was on'] },
  { name: "the board's zero is off", hours: 9, base: [[0, 0]], bursts: [[3000, 3030, 500]], reads: (mA) => mA - 1.6, code: 'within', warnings: ['zero-off'], says: ['at -1.6 mA'] },
  { name: "beyond the board's range", hours: 9, base: calm, bursts: [[12_000, 12_010, 20_000]], reads: (mA) => Math.min(mA, 16_384), fullScale_mA: 16_384, code: 'within', warnings: ['clipped'], says: ['once, 10 s at 16.4 A'], warns: /16\.4 A/ },
  { name: 'cut off flat in a log', hours: 9, base: calm, bursts: every(3000, 40 * MIN, 9 * H, 30, 2000), sampling: { windows: false }, reads: (mA) => Math.min(mA, 1000), code: 'within', warnings: ['clipped'], says: ['every 40 min, 30 s at 1.0 A'] },
  { name: 'a ground loop scales everything', hours: 9, base: calm, bursts: wakes, reads: (mA, t) => (t > 4.2 * H ? 0.3 * mA : mA), code: 'within', warnings: ['ground-loop'], says: ['a second path took a part'], warns: /to 30 %/ },
  { name: 'fell low, nobody can tell why', hours: 9, base: [...calm, [5 * H, 0.8]], code: 'within', warnings: ['fell-low'], says: ['the reading fell low'], warns: /cannot be told/ },
  { name: 'a load went off: its wake-ups stay as they were', hours: 9, base: [...stairs(ASLEEP, 45), [5 * H, 15]], bursts: every(2500, 34 * MIN, 9 * H, 48, 600), code: 'within', warnings: ['slow-to-sleep'], says: ['Asleep after 5.0 h at 15 mA'] },
  { name: 'a door opened at 02:13', hours: 9, base: calm, bursts: doorOpened(5.2 * H), starts: { hour: 21, minute: 1 }, code: 'within', warnings: ['disturbed'], says: ['once, 20 min at'], warns: /^At 02:13 .* 1\.4 A.*average is 19 mA/ },
  { name: 'a door opened twice', hours: 9, base: calm, bursts: [...doorOpened(4 * H), ...doorOpened(7 * H)], code: 'wakes', warnings: ['disturbed'], says: ['twice, 20 min at'] },
  { name: 'the whole car wakes again and again', hours: 9, base: calm, bursts: [1.4, 3.1, 4.9, 7.3].flatMap((h) => doorOpened(h * H)), code: 'wakes', warnings: ['switch-suspect'], says: ['4 times, 20 min at'] },
  { name: 'held awake all night', hours: 9, base: [[0, 900], [600, 330]], code: 'over', warnings: ['switch-suspect'], says: ['at 330 mA, over'] },
  { name: 'never asleep, at what an awake car draws', hours: 4, base: Array.from({ length: 15 }, (_, i) => [i * 1000, 700 - 30 * i] as [number, number]), code: 'awake', warnings: ['stays-awake', 'switch-suspect'], says: ['last at 280 mA'] },
  { name: 'the level follows the temperature', hours: 9, base: calm, reads: (mA, t) => mA - (6 * t) / (9 * H), temp_C: (t) => 22 - (14 * t) / (9 * H), code: 'within', warnings: ['offset-drift'], says: ['Asleep after 20 min'] },
  { name: 'the temperature falls and the level stays', hours: 9, base: calm, temp_C: (t) => 22 - (14 * t) / (9 * H), code: 'within', warnings: [], says: ['at 19 mA'] },
  {
    name: 'the sense chip did not answer, and later was held low', hours: 9, base: calm, starts: { hour: 21, minute: 0 }, code: 'within', warnings: ['board-fault'], says: ['at 19 mA'],
    statuses: [{ t_s: 5 * H, code: 'sensor-missing' }, { t_s: 5 * H + 10, code: 'sensor-missing' }, { t_s: 5 * H + 14, code: 'sensor-ok' }, { t_s: 7 * H, code: 'bus-stuck' }, { t_s: 7 * H + 2, code: 'sensor-ok' }],
    warns: /^The board measured nothing for a while, 2 times, first at 02:00\.$/,
  },
  { name: 'the supply of the board sagged', hours: 9, base: calm, starts: { hour: 21, minute: 0 }, statuses: [{ t_s: 5 * H, code: 'brownout' }], code: 'within', warnings: ['board-brownout'], says: ['at 19 mA'], warns: /began anew, once, first at 02:00/ },
  { name: 'the firmware hung twice', hours: 9, base: calm, starts: { hour: 21, minute: 0 }, statuses: [{ t_s: 5 * H, code: 'watchdog' }, { t_s: 6 * H, code: 'watchdog' }], code: 'within', warnings: ['board-hung'], says: ['at 19 mA'], warns: /began anew, 2 times, first at 02:00/ },
  { name: 'a gap that the board counted', hours: 9, base: calm, gaps: [{ start_s: 4 * H, end_s: 5 * H, charge_mAh: 19 }], code: 'within', warnings: [], says: ['at 19 mA'] },
  { name: 'an hour that nobody counted', hours: 9, base: calm, gaps: [{ start_s: 4 * H, end_s: 5 * H, charge_mAh: null, estimate_mAh: { low: 18.6, high: 19.5 } }], code: 'within', warnings: ['gaps'], says: ['at 19 mA'], warns: /60 min .*11 %/ },
  { name: 'a battery nearly flat', hours: 9, base: calm, volts: { rested_V: () => 12.1 }, code: 'within', warnings: ['battery-low'], says: ['at 19 mA'] },
  { name: 'a battery that falls by itself', hours: 9, base: calm, volts: { rested_V: (t) => 12.9 - (0.5 * t) / (9 * H) }, code: 'within', warnings: ['battery-sagging'], says: ['at 19 mA'] },
  { name: 'a battery that gives way under a lamp', hours: 9, base: calm, bursts: wakes, volts: { rested_V: () => 12.6, ohms: 0.2 }, code: 'wakes', warnings: ['battery-sagging'], says: ['48 s at 1.9 A'], warns: /200 mΩ/ },
  { name: 'a sound battery under the same', hours: 9, base: calm, bursts: wakes, volts: { ...sound, ohms: 0.012 }, code: 'wakes', warnings: [], says: ['48 s at 1.9 A'] },
  { name: 'no 12 V battery', hours: 9, base: calm, volts: { rested_V: () => 25.2 }, code: 'within', warnings: ['voltage-odd'], says: ['no 12 V battery'] },
];

const battery = { battery_type: 'flooded', capacity_Ah: 60, temperature_C: 20 } as const;

/** 19 mA take 0.46 Ah a day, 90 mA 2.2 Ah, 62 mA 1.5 Ah; 60 Ah that may lose 30 to 50 %, 85 to 100 % full. */
export const COMPLAINTS: Scenario[] = [
  { name: 'dead after two days at 19 mA', hours: 9, base: calm, told: { ...battery, dead_after_days: 2 }, code: 'within', warnings: [], says: ['at 19 mA'], complaint: 'does-not-explain' },
  { name: 'dead after eight days at 19 mA', hours: 9, base: calm, told: { ...battery, dead_after_days: 8 }, code: 'within', warnings: [], says: ['at 19 mA'], complaint: 'only-low-or-worn' },
  { name: 'dead after five days, woken', hours: 9, base: calm, bursts: wakes, told: { ...battery, dead_after_days: 5 }, code: 'wakes', warnings: [], says: ['62 mA'], complaint: 'may-explain' },
  { name: 'dead after three weeks at 90 mA', hours: 9, base: stairs(ASLEEP, 90), told: { ...battery, dead_after_days: 21 }, code: 'over', warnings: [], says: ['at 90 mA'], complaint: 'explains' },
  { name: 'dead after ten days, clamps swapped', hours: 9, base: calm, reads: (mA) => -mA, told: { ...battery, dead_after_days: 10 }, code: 'within', warnings: ['clamps-swapped'], says: ['-19 mA'], complaint: 'cannot-tell' },
  { name: 'an AGM by its reserve', hours: 9, base: stairs(ASLEEP, 120), told: { battery_type: 'agm', reserve_min: 120, before_V: 12.75, after_V: 12.7, dead_after_days: 30 }, code: 'over', warnings: [], says: ['at 120 mA'], complaint: 'explains' },
];
