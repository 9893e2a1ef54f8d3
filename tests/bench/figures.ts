// What a bench figure is, how rounds are timed, and how the table is printed.

export interface Figure {
  /** Key in ceilings.json. */
  name: string;
  /** What was measured against what. */
  meaning: string;
  value: number;
  unit: string;
}

export function median(values: number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[sorted.length >> 1]!;
}

/**
 * Median of the ratio a/b over interleaved rounds: a noisy machine slows both of a pair.
 * @param rounds odd number of counted rounds, after `discarded` that are not counted
 */
export async function ratioOf(a: () => unknown, b: () => unknown, rounds = 7, discarded = 2): Promise<number> {
  const ratios: number[] = [];
  for (let round = -discarded; round < rounds; round++) {
    const a_ms = await timed_ms(a);
    const b_ms = await timed_ms(b);
    if (round >= 0) ratios.push(a_ms / b_ms);
  }
  return median(ratios);
}

export async function timed_ms(work: () => unknown): Promise<number> {
  const start = performance.now();
  await work();
  return performance.now() - start;
}

/** Prints the table; false where a figure is over its stored ceiling or has none. */
export function report(figures: readonly Figure[], ceilings: Record<string, number>): boolean {
  let good = true;
  for (const { name, meaning, value, unit } of figures) {
    const ceiling = ceilings[name];
    const within = ceiling !== undefined && value <= ceiling;
    good &&= within;
    const limit = ceiling === undefined ? 'no stored ceiling' : `ceiling ${ceiling}`;
    console.log(
      `${within ? 'ok  ' : 'OVER'}  ${value.toPrecision(4).padStart(9)} ${unit.padEnd(14)} ${limit.padEnd(18)} ${meaning}`,
    );
  }
  return good;
}
