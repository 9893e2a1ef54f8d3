// Which seed a test takes: a fixed one, so that the gate says the same each time; in the
// long form one of the hour. A failure prints it.

/** @param fixed the seed of `npm test`; NIGHTDRAW_SEED replays another */
export function seedOf(fixed: number): number {
  const asked = process.env['NIGHTDRAW_SEED'];
  if (asked !== undefined) return Number(asked);
  return process.env['NIGHTDRAW_SOAK'] === '1' ? Date.now() % 1e9 : fixed;
}
