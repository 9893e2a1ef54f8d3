// The options that say what a night means, read from the command line by the table of settings.

import { optionsFrom } from '../analysis/meaning/interpret.ts';
import { allowanceOf } from '../analysis/meaning/allowance.ts';
import type { MeaningOptions } from '../analysis/meaning/interpret.ts';
import { faultOf, layered, SETTINGS } from '../contract/settings.ts';
import type { Told } from '../contract/settings.ts';
import { UsageError } from './command.ts';
import type { Command, OptionValues } from './command.ts';

export const NIGHT_OPTIONS: Command['options'] = {
  ...Object.fromEntries(SETTINGS.map((setting) => [setting.option, { type: 'string' as const }])),
  settings: { type: 'string' },
};

/** Where a few words are all that an option takes. */
export const NIGHT_CHOICES: NonNullable<Command['choices']> = Object.fromEntries(
  SETTINGS.flatMap(({ option, words, limits }) => (words === null || limits !== null ? [] : [[option, words]])),
);

const COLUMN = 20;

/** One line for each option, with what it is where nobody sets it. */
export function optionHelp(): string {
  const line = (words: string, means: string) => `  ${words.padEnd(COLUMN)} ${means}`;
  return [
    ...SETTINGS.map((s) => line(`--${s.option} ${s.value}`, `${s.means}${s.usual === 'none' ? '' : ` (${s.usual})`}`)),
    line('--settings FILE', "workshop's settings (nightdraw.json beside FILE or here)"),
  ].join('\n');
}

/**
 * What the command line tells.
 * @throws UsageError naming the option, the value, its limits and where to look
 */
export function toldBy(values: OptionValues): Told {
  const told: Record<string, number | string> = {};
  for (const setting of SETTINGS) {
    const text = values[setting.option];
    if (typeof text !== 'string') continue;
    const isWord = setting.limits === null || setting.words?.includes(text);
    const value = isWord ? text : text.trim() === '' ? NaN : Number(text);
    const fault = faultOf(setting, value);
    if (fault !== null) throw new UsageError(`--${setting.option} ${text} ${fault}`);
    told[setting.key] = value;
  }
  return told;
}

/**
 * The options of all layers together, later ones over earlier ones.
 * @throws UsageError where they do not make sense together
 */
export function nightOptions(...layers: readonly Told[]): MeaningOptions {
  const told = layered(...layers);
  if (told.proof_at_min !== undefined && told.proof_mA === undefined)
    throw new UsageError('--proof-at says when, but not what; give --proof too');
  const options = optionsFrom(told);
  try {
    allowanceOf(options.allowance, options.battery.reserve_min);
  } catch (error) {
    throw new UsageError((error as Error).message);
  }
  return options;
}
