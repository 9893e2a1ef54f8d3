// Finds the header line of a CSV and which column holds what: fixed point 3 of
// the design (the columns that users may rely on).

/** A column that is used: where it stands, and the power of ten that brings it to mA or V. */
export interface ColumnPlace {
  index: number;
  shift: number;
  name: string;
}

export interface CsvHeader {
  delimiter: number;
  /** Fields in the header line. */
  width: number;
  t_s: ColumnPlace | null;
  time: ColumnPlace | null;
  current: ColumnPlace;
  min: ColumnPlace | null;
  max: ColumnPlace | null;
  voltage: ColumnPlace | null;
}

type Role = 't_s' | 'time' | 'current' | 'min' | 'max' | 'voltage';

const CURRENT_UNITS: [string, number][] = [
  ['mA', 0],
  ['A', 3],
  ['uA', -3],
];

/** Column names in small letters, each with its role and its power of ten. */
const NAMES = new Map<string, { role: Role; shift: number }>([
  ['t_s', { role: 't_s', shift: 0 }],
  ['time', { role: 'time', shift: 0 }],
  ['voltage_v', { role: 'voltage', shift: 0 }],
  ['voltage_mv', { role: 'voltage', shift: -3 }],
  ...CURRENT_UNITS.flatMap(([unit, shift]): [string, { role: Role; shift: number }][] => [
    [`current_${unit}`.toLowerCase(), { role: 'current', shift }],
    ...(['min', 'max'] as const).flatMap((role): [string, { role: Role; shift: number }][] => [
      [`${role}_${unit}`.toLowerCase(), { role, shift }],
      [`${role}_current_${unit}`.toLowerCase(), { role, shift }],
    ]),
  ]),
]);

const DELIMITERS = [',', ';', '\t'];

export const EXPECTED_COLUMNS = 't_s or time, and current_mA, current_A or current_uA';

/**
 * What a line is as a header: the columns it names, why it cannot be one although
 * it knows some, or null where it names none.
 */
export function readHeader(line: string): CsvHeader | { problem: string } | null {
  let problem: string | null = null;
  for (const delimiter of DELIMITERS) {
    const names = line.split(delimiter).map((name) =>
      name
        .trim()
        .replace(/^"(.*)"$/, '$1')
        .trim(),
    );
    const found = readNames(names, delimiter);
    if (found === null) continue;
    if (!('problem' in found)) return found;
    problem ??= found.problem;
  }
  return problem === null ? null : { problem };
}

function readNames(names: string[], delimiter: string): CsvHeader | { problem: string } | null {
  const places = new Map<Role, ColumnPlace>();
  for (const [index, name] of names.entries()) {
    const known = NAMES.get(name.toLowerCase());
    if (known === undefined) continue;
    const before = places.get(known.role);
    if (before !== undefined)
      return { problem: `the columns ${before.name} and ${name} both mean the same; leave one` };
    places.set(known.role, { index, shift: known.shift, name });
  }
  if (places.size === 0) return null;
  const current = places.get('current');
  const place = (role: Role) => places.get(role) ?? null;
  if (current === undefined) return { problem: 'no column current_mA, current_A or current_uA' };
  if (place('t_s') === null && place('time') === null) return { problem: 'no column t_s or time' };
  return {
    delimiter: delimiter.charCodeAt(0),
    width: names.length,
    current,
    t_s: place('t_s'),
    time: place('time'),
    min: place('min'),
    max: place('max'),
    voltage: place('voltage'),
  };
}
