// Everything that somebody can set about what a night means: one table, from which the
// workshop's file, the options of the command line and their help are read. The page
// ../analysis/meaning/SETTINGS.md explains each; a test holds both together.

import * as z from 'zod/mini';
import type { BatteryType } from './meaning.ts';

/** The allowance where nobody says otherwise: common practice (30 to 85 mA by car), no source. */
export const USUAL_MA = 50;
/** The time to fall asleep, 15 to 30 min from the last door: common practice, no source. */
export const SETTLE_MIN = 30;

export interface AnalysisOptions {
  /** Largest mean draw accepted while parked. */
  allowance_mA: number;
  /** Smallest lasting change of level that counts as a step. */
  step_mA: number;
  /** Shortest hold of a level. */
  hold_s: number;
  /** Smallest rise that counts as a wake-up. */
  rise_mA: number;
}

export const DEFAULT_OPTIONS: AnalysisOptions = { allowance_mA: USUAL_MA, step_mA: 5, hold_s: 20, rise_mA: 20 };

export interface Told {
  allowance_mA?: number | 'reserve';
  allowance_source?: string;
  settle_min?: number;
  step_mA?: number;
  hold_s?: number;
  rise_mA?: number;
  battery_type?: BatteryType;
  capacity_Ah?: number;
  reserve_min?: number;
  before_V?: number;
  after_V?: number;
  temperature_C?: number;
  dead_after_days?: number;
  proof_mA?: number;
  proof_at_min?: number;
  workshop_name?: string;
  workshop_logo?: string;
}

export interface Setting {
  key: keyof Told;
  /** Its option, without the dashes. */
  option: string;
  /** What stands for the value in the help. */
  value: string;
  /** Numbers within these, both included; null for words. */
  limits: { min: number; max: number; unit: string } | null;
  /** Words that stand as they are, null for any text; asked only where there are no limits or beside them. */
  words: readonly string[] | null;
  usual: string;
  means: string;
  /** Where to look for the right value; closes the message that refuses a wrong one. */
  look: string;
  /** True for what holds for a workshop; the rest is one car's and stands in no file. */
  workshop: boolean;
}

const number = (min: number, max: number, unit: string) => ({ min, max, unit });

export const SETTINGS: readonly Setting[] = [
  {
    key: 'allowance_mA',
    option: 'allow',
    value: 'mA',
    limits: number(0.1, 10_000, 'mA'),
    words: ['reserve'],
    usual: `${USUAL_MA}; 'reserve': RC / 4`,
    means: 'largest draw accepted',
    look: '30 to 85 mA are common',
    workshop: true,
  },
  {
    key: 'allowance_source',
    option: 'allow-source',
    value: 'TEXT',
    limits: null,
    words: null,
    usual: 'none',
    means: "the maker's document that --allow stands in",
    look: 'name the document',
    workshop: true,
  },
  {
    key: 'settle_min',
    option: 'settle',
    value: 'MIN',
    limits: number(1, 600, 'min'),
    words: null,
    usual: String(SETTLE_MIN),
    means: 'asleep within so many minutes',
    look: '15 to 75 min are common',
    workshop: true,
  },
  {
    key: 'step_mA',
    option: 'step',
    value: 'mA',
    limits: number(0.001, 1_000_000, 'mA'),
    words: null,
    usual: '5',
    means: 'smallest lasting change of level',
    look: '5 is usual',
    workshop: true,
  },
  {
    key: 'hold_s',
    option: 'hold',
    value: 'S',
    limits: number(0.001, 86_400, 's'),
    words: null,
    usual: '20',
    means: 'shortest hold of a level, seconds',
    look: '20 is usual',
    workshop: true,
  },
  {
    key: 'rise_mA',
    option: 'rise',
    value: 'mA',
    limits: number(0.001, 1_000_000, 'mA'),
    words: null,
    usual: '20',
    means: 'smallest wake-up',
    look: '20 is usual',
    workshop: true,
  },
  {
    key: 'battery_type',
    option: 'battery',
    value: 'TYPE',
    limits: null,
    words: ['flooded', 'agm'],
    usual: 'flooded',
    means: 'flooded or agm',
    look: 'AGM stands on the label of one',
    workshop: true,
  },
  {
    key: 'capacity_Ah',
    option: 'capacity',
    value: 'Ah',
    limits: number(5, 300, 'Ah'),
    words: null,
    usual: '45 to 80',
    means: "the battery's capacity",
    look: "it stands on the battery's label",
    workshop: true,
  },
  {
    key: 'reserve_min',
    option: 'reserve',
    value: 'MIN',
    limits: number(10, 500, 'min'),
    words: null,
    usual: 'none',
    means: "the battery's reserve capacity (RC), minutes",
    look: "it stands on the battery's label as RC",
    workshop: true,
  },
  {
    key: 'before_V',
    option: 'volts-before',
    value: 'V',
    limits: number(10, 13.5, 'V'),
    words: null,
    usual: 'none',
    means: 'rested battery voltage before the night',
    look: 'a 12 V battery at rest shows 11 to 13 V',
    workshop: false,
  },
  {
    key: 'after_V',
    option: 'volts-after',
    value: 'V',
    limits: number(10, 13.5, 'V'),
    words: null,
    usual: 'measured',
    means: 'the same after it',
    look: 'a 12 V battery at rest shows 11 to 13 V',
    workshop: false,
  },
  {
    key: 'temperature_C',
    option: 'temperature',
    value: 'C',
    limits: number(-40, 60, '°C'),
    words: null,
    usual: 'measured',
    means: 'temperature of the battery, °C',
    look: 'take that of the place where the car stands',
    workshop: true,
  },
  {
    key: 'dead_after_days',
    option: 'dead-after',
    value: 'DAYS',
    limits: number(0.1, 365, 'days'),
    words: null,
    usual: 'none',
    means: 'the complaint: dead after so many days',
    look: 'ask how long it stood',
    workshop: false,
  },
  {
    key: 'proof_mA',
    option: 'proof',
    value: 'mA',
    limits: number(20, 20_000, 'mA'),
    words: null,
    usual: 'none',
    means: 'a known load, switched on to prove the clamps',
    look: 'a lamp of 5 W draws about 400 mA',
    workshop: false,
  },
  {
    key: 'proof_at_min',
    option: 'proof-at',
    value: 'MIN',
    limits: number(0, 2880, 'min'),
    words: null,
    usual: 'the first 15',
    means: 'minutes from the start at which it was',
    look: 'leave it out if it was within the first 15 min',
    workshop: false,
  },
  {
    key: 'workshop_name',
    option: 'workshop',
    value: 'TEXT',
    limits: null,
    words: null,
    usual: 'none',
    means: "workshop's name in the report",
    look: 'as it stands on your letters',
    workshop: true,
  },
  {
    key: 'workshop_logo',
    option: 'logo',
    value: 'FILE',
    limits: null,
    words: null,
    usual: 'none',
    means: "workshop's logo in the report, PNG, JPEG or SVG",
    look: 'name a PNG, JPEG or SVG file',
    workshop: true,
  },
];

const LIMITS_OF_TEXT = 200;

/** What is wrong with a value, as `not ...` with where to look; null where nothing is. */
export function faultOf(setting: Setting, value: unknown): string | null {
  const { limits, words, look } = setting;
  if (typeof value === 'string' && words?.includes(value)) return null;
  if (limits !== null) {
    if (typeof value === 'number' && value >= limits.min && value <= limits.max) return null;
    const or = words === null ? '' : ` or '${words.join("', '")}'`;
    return `is not a number from ${limits.min} to ${limits.max} ${limits.unit}${or}; ${look}`;
  }
  if (words !== null) return `is not '${words.join("' or '")}'; ${look}`;
  return typeof value === 'string' && value.trim() !== '' && value.length <= LIMITS_OF_TEXT
    ? null
    : `is not a text of at most ${LIMITS_OF_TEXT} letters; ${look}`;
}

const WORKSHOP = SETTINGS.filter((setting) => setting.workshop);

const workshopFile = z.strictObject(
  Object.fromEntries(
    WORKSHOP.map((setting) => [
      setting.key,
      z.optional(
        z.unknown().check(({ value, issues }) => {
          const fault = value === undefined ? null : faultOf(setting, value);
          if (fault !== null)
            issues.push({ code: 'custom', input: value, message: `${setting.key} ${JSON.stringify(value)} ${fault}` });
        }),
      ),
    ]),
  ),
);

/**
 * Reads the settings of a workshop's file.
 * @param others keys of the same file that somebody else reads: named where a key is unknown
 * @throws Error in one sentence naming the key, its limits, or what the known keys are
 */
export function readWorkshop(value: unknown, others: readonly string[] = []): Told {
  if (typeof value !== 'object' || value === null || Array.isArray(value))
    throw new Error('it holds no settings; write them as {"allowance_mA": 40}');
  const parsed = workshopFile.safeParse(value);
  if (parsed.success) return parsed.data;
  const [issue] = parsed.error.issues;
  if (issue?.code === 'unrecognized_keys') {
    const key = issue.keys[0]!;
    const known = SETTINGS.find((setting) => setting.key === key);
    if (known !== undefined)
      throw new Error(`${key} belongs to one car, not to a workshop; give it as --${known.option}`);
    throw new Error(
      `'${key}' is no setting; known are ${[...WORKSHOP.map((setting) => setting.key), ...others].join(', ')}`,
    );
  }
  throw new Error(issue?.message ?? 'it cannot be read');
}

/** What a capture knows of its own car and battery. `path` names the file, so that any capture's own facts fit. */
export interface CaptureFacts {
  path: string;
  car?: { deadAfter_days?: number } | null;
  battery?: {
    type?: 'flooded' | 'agm';
    capacity_Ah?: number;
    reserve_min?: number;
    before_V?: number;
    after_V?: number;
    temperature_C?: number;
  } | null;
}

/** What a capture tells, as settings. A value beyond the limits is left out: nobody is there to put it right. */
export function toldInCapture({ car, battery }: CaptureFacts): Told {
  const { type, ...figures } = battery ?? {};
  const all: Record<string, unknown> = { ...figures, battery_type: type, dead_after_days: car?.deadAfter_days };
  return Object.fromEntries(
    SETTINGS.flatMap((setting) => {
      const value = all[setting.key];
      return value === undefined || faultOf(setting, value) !== null ? [] : [[setting.key, value]];
    }),
  );
}

/**
 * Later ones count over earlier ones: the workshop's, then the capture's own, then what was typed. An allowance and its
 * source go together.
 */
export function layered(...layers: readonly Told[]): Told {
  return layers.reduce<Told>((before, layer) => {
    const { allowance_source, ...kept } = before;
    const keepsSource = layer.allowance_mA === undefined && allowance_source !== undefined;
    return { ...kept, ...(keepsSource ? { allowance_source } : {}), ...layer };
  }, {});
}
