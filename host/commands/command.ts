// What a command of the command line is, and how its words and numbers are read.

import { parseArgs } from 'node:util';
import type { ParseArgsConfig } from 'node:util';

/** Wrong use of the command line: exit code 2. Everything else that stops a command is exit code 1. */
export class UsageError extends Error {}

export type OptionValues = Record<string, string | boolean | string[] | undefined>;

export interface Command {
  /** The whole `--help` text. */
  help: string;
  options: NonNullable<ParseArgsConfig['options']>;
  /** The words that an option takes where there are but a few, by its name; '' is for what is no option. */
  choices?: Readonly<Record<string, readonly string[]>>;
  /** How many file names the command takes. */
  positionals: number;
  /** Does the work; resolves to the exit code. */
  run(values: OptionValues, positionals: string[]): Promise<number>;
}

/** A command as it stands in the list of all. */
export interface Listed {
  /** What it does, in one line. */
  summary: string;
  /** Loads it: a start should not pay for the others. */
  load: () => Promise<{ command: Command }>;
}

/**
 * Reads a command's words.
 * @throws UsageError naming the word that is wrong and where help is.
 */
export function readArguments(
  name: string,
  command: Command,
  argv: string[],
): { values: OptionValues; positionals: string[] } {
  const more = `see 'nightdraw ${name} --help'`;
  let parsed;
  try {
    parsed = parseArgs({
      args: joinSignedValues(argv, command.options),
      options: { ...command.options, help: { type: 'boolean', short: 'h' } },
      allowPositionals: true,
      strict: true,
    });
  } catch (error) {
    const text =
      error instanceof Error ? error.message.split('\n')[0]!.replace(/\.? To specify .*$/, '') : String(error);
    throw new UsageError(`${text}; ${more}`);
  }
  const values = parsed.values as OptionValues;
  if (values['help'] !== true && parsed.positionals.length !== command.positionals) {
    const wanted = command.positionals === 0 ? 'no file name' : 'one file name';
    throw new UsageError(`${name} takes ${wanted}, not ${parsed.positionals.length}; ${more}`);
  }
  return { values, positionals: parsed.positionals };
}

/** Lets `--step -5` reach the check that names the value, instead of being read as an option `-5`. */
function joinSignedValues(argv: string[], options: Command['options']): string[] {
  const joined: string[] = [];
  for (let i = 0; i < argv.length; i++) {
    const word = argv[i]!;
    const next = argv[i + 1];
    const takesValue = word.startsWith('--') && options[word.slice(2)]?.type === 'string';
    if (takesValue && next !== undefined && /^-[\d.]/.test(next)) {
      joined.push(`${word}=${next}`);
      i++;
    } else joined.push(word);
  }
  return joined;
}

/** A required text option. */
export function requiredText(values: OptionValues, option: string, example: string): string {
  const value = values[option];
  if (typeof value !== 'string' || value === '')
    throw new UsageError(`--${option} is missing; for example --${option} ${example}`);
  return value;
}

/** An optional number within limits, both included. Undefined where the option is not given. */
export function optionalNumber(
  values: OptionValues,
  option: string,
  min: number,
  max: number,
  unit: string,
): number | undefined {
  const value = values[option];
  if (value === undefined) return undefined;
  const number = typeof value === 'string' && value.trim() !== '' ? Number(value) : NaN;
  if (!(number >= min && number <= max)) {
    throw new UsageError(
      `--${option} ${String(value)} is not a number from ${min} to ${max}${unit === '' ? '' : ' ' + unit}`,
    );
  }
  return number;
}

/** Seconds of a length of time such as `90s`, `45m`, `10h` or `1h30m`; NaN where the text is none. */
function secondsOf(text: string): number {
  const parts = /^(?:(\d+(?:\.\d+)?)h)?(?:(\d+(?:\.\d+)?)m)?(?:(\d+(?:\.\d+)?)s)?$/.exec(text);
  return parts === null || text === ''
    ? NaN
    : Number(parts[1] ?? 0) * 3600 + Number(parts[2] ?? 0) * 60 + Number(parts[3] ?? 0);
}

/** A length of time, in seconds; nothing is none. Undefined where the option is not given. */
export function optionalDuration(values: OptionValues, option: string): number | undefined {
  const value = values[option];
  if (value === undefined) return undefined;
  const seconds = secondsOf(String(value));
  if (!(seconds > 0))
    throw new UsageError(`--${option} ${String(value)} is not a length of time; write it as 10h, 45m, 90s or 1h30m`);
  return seconds;
}

/** A moment, in seconds from the first sample, which is at `0s`. Undefined where the option is not given. */
export function optionalMoment(values: OptionValues, option: string): number | undefined {
  const value = values[option];
  if (value === undefined) return undefined;
  const seconds = secondsOf(String(value));
  if (Number.isNaN(seconds))
    throw new UsageError(
      `--${option} ${String(value)} is no time from the first sample; write it as 0s, 45m, 90s or 1h30m`,
    );
  return seconds;
}
