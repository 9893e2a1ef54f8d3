// A circuit as a plain list of which pins are joined, to hold against what was read from a file.
import { OPEN } from '../../../firmware/circuit/shape.ts';
import type { Circuit } from '../../../firmware/circuit/shape.ts';

/** Net -> its pins, as the source has them. */
export function netsOf(circuit: Circuit): Record<string, string[]> {
  const all: Record<string, string[]> = {};
  for (const part of circuit.parts)
    for (const [pin, net] of Object.entries(part.on)) if (net !== OPEN) (all[net] ??= []).push(`${part.ref}.${pin}`);
  return sorted(all);
}

/** Nets by name, and the pins of each. */
export const sorted = (all: Record<string, string[]>) =>
  Object.fromEntries(
    Object.entries(all)
      .toSorted(([a], [b]) => (a < b ? -1 : 1))
      .map(([net, pins]) => [net, pins.toSorted()]),
  );
