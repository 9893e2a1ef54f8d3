// Direct voltages in a circuit of resistors, batteries and small currents, by nodes (Kirchhoff, solved by
// Gauss): what the pins of a board on the bench lie at. Nets by name; the reference is `POST`.

export const POST = 'POST';

export interface Network {
  /** Between two nets, in ohms: more than 0. */
  resistors: readonly (readonly [string, string, number])[];
  /** An ideal source: from its minus to its plus, in volts. */
  battery: { plus: string; volt: number };
  /** Flows out of a net into the reference, in amperes. */
  sinks: readonly (readonly [string, number])[];
}

/** What joins every net to the reference: a net that nothing holds is at 0 V. Some leak of a board, no part of it. */
const LEAK_OHM = 1e12;

/** Volts of every net against the reference. O(nets³). */
export function solve({ resistors, battery, sinks }: Network): ReadonlyMap<string, number> {
  const names = [...new Set(resistors.flatMap(([a, b]) => [a, b]))].filter(
    (name) => name !== POST && name !== battery.plus,
  );
  const place = new Map(names.map((name, i) => [name, i]));
  const rows = names.map((_, i) => [...names.map((_, j) => (i === j ? 1 / LEAK_OHM : 0)), 0]);
  for (const [a, b, ohm] of resistors)
    for (const [near, far] of [
      [a, b],
      [b, a],
    ] as const) {
      const i = place.get(near);
      if (i === undefined) continue;
      const row = rows[i]!;
      row[i]! += 1 / ohm;
      const j = place.get(far);
      if (j !== undefined) row[j]! -= 1 / ohm;
      else if (far === battery.plus) row[names.length]! += battery.volt / ohm;
    }
  for (const [name, ampere] of sinks) {
    const i = place.get(name);
    if (i !== undefined) rows[i]![names.length]! -= ampere;
  }
  eliminate(rows);
  return new Map([
    [POST, 0],
    [battery.plus, battery.volt],
    ...names.map((name, i) => [name, rows[i]!.at(-1)! / rows[i]![i]!] as const),
  ]);
}

/** Gauss and Jordan with the largest pivot; the last column is the right side. */
function eliminate(rows: number[][]): void {
  for (let k = 0; k < rows.length; k++) {
    let best = k;
    for (let i = k + 1; i < rows.length; i++) if (Math.abs(rows[i]![k]!) > Math.abs(rows[best]![k]!)) best = i;
    [rows[k], rows[best]] = [rows[best]!, rows[k]!];
    for (let i = 0; i < rows.length; i++) {
      const times = rows[i]![k]! / rows[k]![k]!;
      if (i !== k && times !== 0) rows[i] = rows[i]!.map((value, j) => value - times * rows[k]![j]!);
    }
  }
}
