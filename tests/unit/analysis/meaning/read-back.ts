// Reads sentences back: takes every number with its unit out of them and holds it against
// the findings that it came from. Written from the sentences' grammar, not from the code
// that writes them. Whatever it cannot account for is a contradiction.

import { timeWords } from '../../../../host/say/times.ts';
import type { NightMeaning } from '../../../../host/analysis/meaning/interpret.ts';

interface Quantity {
  value: number;
  /** Half of the last digit, in the same unit. */
  half: number;
  kind: 'current' | 'time' | 'charge' | 'voltage' | 'share' | 'days' | 'resistance' | 'temperature' | 'power';
}

const UNITS: Record<string, [Quantity['kind'], number]> = {
  mA: ['current', 1],
  A: ['current', 1000],
  ms: ['time', 0.001],
  s: ['time', 1],
  min: ['time', 60],
  h: ['time', 3600],
  mAh: ['charge', 1],
  µAh: ['charge', 0.001],
  Ah: ['charge', 1000],
  V: ['voltage', 1],
  mV: ['voltage', 0.001],
  '%': ['share', 1],
  day: ['days', 1],
  days: ['days', 1],
  mΩ: ['resistance', 1],
  '°C': ['temperature', 1],
  W: ['power', 1],
};
const NUMBER = '[-\\u2212]?\\d[\\d\\u00a0]*(?:\\.\\d+)?';
/** Hours with minutes, and minutes with tens of seconds. */
const COMPOUND = '\\d+ h \\d+ min|\\d+ min \\d+ s';
const QUANTITY = `(?:${COMPOUND}|${NUMBER} (?:${Object.keys(UNITS).join('|')}))(?![\\wΩ])`;

export function quantity(text: string): Quantity {
  const compound = /^(\d+) (h|min) (\d+) (min|s)$/.exec(text);
  if (compound !== null) {
    const [, whole, unit, rest] = compound;
    const scale = unit === 'h' ? 60 : 1;
    return { value: (Number(whole) * 60 + Number(rest)) * scale, half: unit === 'h' ? 30 : 5, kind: 'time' };
  }
  const [, digits, unit] = new RegExp(`^(${NUMBER}) (\\S+)$`).exec(text)!;
  const plain = digits!.replaceAll('\u00a0', '').replace('\u2212', '-');
  const [kind, scale] = UNITS[unit!]!;
  const decimals = plain.split('.')[1]?.length ?? 0;
  // Whole hours stand for no minutes beside them, few whole minutes for no seconds.
  const rounded_s = decimals > 0 ? null : unit === 'h' ? 30 : unit === 'min' && Number(plain) < 10 ? 5 : null;
  return { value: Number(plain) * scale, half: rounded_s ?? (0.5 * 10 ** -decimals + 1e-9) * scale, kind };
}

/** Days are told in halves below four, in whole ones below forty, in two digits above. */
function halfOfDays(value: number): number {
  return value < 4.25 ? 0.25 : value < 40.5 ? 0.5 : 0.5 * 10 ** (Math.floor(Math.log10(value)) - 1);
}

function fits(q: Quantity, value: number): boolean {
  return Math.abs(q.value - value) <= (q.kind === 'days' ? halfOfDays(value) : q.half) + 1e-9 * Math.abs(value);
}

function times(text: string): number {
  if (text === 'once') return 1;
  if (text === 'twice') return 2;
  return Number(/^([\d\u00a0]+) times$/.exec(text)?.[1]?.replaceAll('\u00a0', '') ?? NaN);
}

const Q = `(${QUANTITY})`;
const ASLEEP = `(?:asleep from the start|asleep after ${Q}) at ${Q}`;
const HOW_OFTEN = '(once|twice|[\\d\\u00a0]+ times)';
const TAIL = `${HOW_OFTEN}(?:, every ${Q})?, ${Q} at ${Q}(?: \\(and ([\\d\\u00a0]+) other wake-ups?\\))?`;
const whole = (pattern: string) => new RegExp(`^${pattern}\\.$`, 'i');

const TEMPLATES = {
  over: whole(`${ASLEEP}, over the ${Q} allowance`),
  overLater: whole(`${ASLEEP}, but from ${Q} on it drew ${Q}, over the ${Q} allowance`),
  wakes: whole(
    `${ASLEEP}(?:; wake-ups lift the average to|\\. With its wake-ups it averages) ${Q}(?: from then on)?, over the ${Q} allowance; it woke ${TAIL}`,
  ),
  wakesUnseen: whole(`${ASLEEP}, but (?:it averages )?${Q}(?: on average)? from then on, over the ${Q} allowance`),
  quiet: whole(`${ASLEEP}, within the ${Q} allowance; nothing woke it`),
  within: whole(
    `${ASLEEP}(?:; with its wake-ups|\\. With its wake-ups it averages) ${Q}(?: on average| from then on), within the ${Q} allowance; it woke ${TAIL}`,
  ),
  awake: whole(
    `The car did not fall asleep in ${Q}: it settled nowhere for half an hour(?:, last at ${Q})?, ${Q} on average`,
  ),
  short: whole(`Too short to tell: ${Q} recorded(?:, last at ${Q})?; record at least one hour, better a whole night`),
};

/** What the verdict's sentence says that the findings do not; empty where they agree. */
export function verdictContradictions(night: NightMeaning): string[] {
  const sentence = night.verdict.sentence.replace(/^Not to be relied on \([^)]*\): /, '');
  const found = Object.entries(TEMPLATES).flatMap(([name, pattern]) => {
    const match = pattern.exec(sentence);
    return match === null ? [] : [{ name: name as keyof typeof TEMPLATES, parts: match.slice(1) }];
  });
  if (found.length !== 1) return [`'${sentence}' has no one grammar, but ${found.length}`];
  const { name, parts } = found[0]!;
  const bad: string[] = [];
  const hold = (what: string, text: string | undefined, value: number | undefined) => {
    if (text !== undefined && (value === undefined || !fits(quantity(text), value)))
      bad.push(`${what}: '${text}' for ${value} in '${sentence}'`);
  };
  const more = (what: string, high: string, low: string) => {
    if (!(quantity(high).value > quantity(low).value))
      bad.push(`${what}: '${high}' is not over '${low}' in '${sentence}'`);
  };
  const codes: Record<string, string> = {
    over: 'over',
    overLater: 'over',
    wakes: 'wakes',
    wakesUnseen: 'wakes',
    quiet: 'within',
    within: 'within',
    awake: 'awake',
    short: 'short',
  };
  if (codes[name] !== night.verdict.code) bad.push(`code ${night.verdict.code} for '${sentence}'`);
  const last_mA = night.levels.at(-1)?.level_mA;
  if (name === 'awake' || name === 'short') {
    hold('length', parts[0], night.trace.duration_s);
    hold('last', parts[1], last_mA);
    hold('mean', parts[2], night.trace.mean_mA);
    return bad;
  }
  const asleep = night.asleep!;
  const late = night.wakeups.filter((w) => w.start_s >= asleep.after_s);
  hold('after', parts[0], asleep.after_s);
  if (parts[0] === undefined && asleep.after_s >= 60) bad.push(`asleep after ${asleep.after_s} for '${sentence}'`);
  hold('level', parts[1], asleep.level_mA);
  const allowed = name === 'over' || name === 'quiet' ? parts[2]! : name === 'overLater' ? parts[4]! : parts[3]!;
  hold('allowance', allowed, night.allowance_mA);
  if (name === 'over') more('level', parts[1]!, allowed);
  if (name === 'overLater') {
    const from = quantity(parts[2]!);
    const level = night.levels.find((l) => fits(from, l.start_s) && fits(quantity(parts[3]!), l.level_mA));
    if (level === undefined) bad.push(`no level of ${parts[3]} from ${parts[2]} on`);
    more('level', parts[3]!, allowed);
  }
  if (name === 'quiet' && late.length > 0) bad.push(`${late.length} wake-ups, but nothing woke it`);
  if (name === 'quiet' && asleep.level_mA > night.allowance_mA) bad.push('not within');
  if (name === 'wakes' || name === 'wakesUnseen' || name === 'within') {
    hold('average', parts[2], asleep.mean_mA);
    if (name !== 'within') more('average', parts[2]!, allowed);
    else if (quantity(parts[2]!).value > quantity(allowed).value) bad.push(`'${parts[2]}' is not within '${allowed}'`);
  }
  if (name === 'wakes' || name === 'within') bad.push(...tailContradictions(night, late, parts.slice(4)));
  return bad;
}

function median(values: number[]): number {
  const sorted = values.sort((a, b) => a - b);
  const middle = sorted.length >> 1;
  return sorted.length % 2 === 1 ? sorted[middle]! : (sorted[middle - 1]! + sorted[middle]!) / 2;
}

/** How often, every how long, how long and how much: of one family, or of all. */
function tailContradictions(
  night: NightMeaning,
  late: NightMeaning['wakeups'],
  [often, every, length, mean, others]: (string | undefined)[],
): string[] {
  const n = times(often!);
  const rest = others === undefined ? 0 : Number(others.replaceAll('\u00a0', ''));
  const groups = [
    { members: late, period_s: null as number | null },
    ...night.families.map((f) => ({ members: late.filter((w) => w.family === f.id), period_s: f.period_s })),
  ];
  const isTrue = groups.some(
    ({ members, period_s }) =>
      members.length === n &&
      late.length - n === rest &&
      fits(quantity(length!), median(members.map((w) => w.end_s - w.start_s))) &&
      fits(quantity(mean!), median(members.map((w) => w.mean_mA))) &&
      (every === undefined || (period_s !== null && fits(quantity(every), period_s))),
  );
  return isTrue ? [] : [`no family is '${[often, every, length, mean, others].join(', ')}'`];
}

const KIND_OF_SUFFIX: Record<string, Quantity['kind']> = {
  _mA: 'current',
  _s: 'time',
  _min: 'time',
  _mAh: 'charge',
  _V: 'voltage',
  _mV: 'voltage',
  _pct: 'share',
  _days: 'days',
  _mOhm: 'resistance',
  _C: 'temperature',
  _W: 'power',
};

/**
 * Numbers of a sentence that no fact accounts for. Facts are named with their units; times of day are times on the
 * trace.
 */
export function strayNumbers(sentence: string, facts: Record<string, number>, start_ms: number | null): string[] {
  const known = Object.entries(facts).map(([name, value]) => {
    const suffix = Object.keys(KIND_OF_SUFFIX).find((end) => name.endsWith(end));
    return {
      kind: suffix === undefined ? null : KIND_OF_SUFFIX[suffix]!,
      value: suffix === '_min' ? value * 60 : suffix === '_mV' ? value / 1000 : value,
    };
  });
  const stray: string[] = [];
  const clock = timeWords(start_ms).minutes;
  let rest = sentence.replace(/\b\d\d:\d\d\b|\+\d+:\d\d h/g, (text) => {
    if (!known.some(({ kind, value }) => kind === 'time' && clock(value) === text)) stray.push(text);
    return '';
  });
  // Ranges share their unit: '70 to 85 %'.
  rest = rest.replace(
    new RegExp(`(${NUMBER}) to (${NUMBER} (%|days?))`, 'g'),
    (_, low: string, high: string, unit: string) => `${low} ${unit} ${high}`,
  );
  rest = rest.replace(new RegExp(QUANTITY, 'g'), (text) => {
    const q = quantity(text);
    if (!known.some(({ kind, value }) => kind === q.kind && fits(q, value))) stray.push(text);
    return '';
  });
  rest = rest.replace(/(once|twice|[\d\u00a0]+ times)/g, (text) => {
    if (/^\d/.test(text) && !known.some(({ kind, value }) => kind === null && value === times(text))) stray.push(text);
    return '';
  });
  return [...stray, ...(rest.replace(/\b12 V\b/g, '').match(/\d+/g) ?? [])];
}
