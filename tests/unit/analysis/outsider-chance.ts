// Seeded chance for the outsider's nights, other than night.ts uses: uniform and normal.

/** Uniform numbers in [0, 1): xorshift128 (Marsaglia 2003), its state spread from the seed. */
export function chance(seed: number): () => number {
  const s = new Uint32Array(4);
  for (let i = 0; i < 4; i++) s[i] = Math.imul((seed + 1) * (i + 3), 0x9e3779b1) ^ (0x7f4a7c15 >>> i);
  const next = () => {
    let t = s[3]!;
    const a = s[0]!;
    s[3] = s[2]!;
    s[2] = s[1]!;
    s[1] = a;
    t ^= t << 11;
    t ^= t >>> 8;
    s[0] = t ^ a ^ (a >>> 19);
    return s[0] / 4294967296;
  };
  for (let i = 0; i < 20; i++) next();
  return next;
}

/** Normal numbers of mean 0 and sigma 1 (Box & Muller 1958). */
export function gaussian(random: () => number): () => number {
  let spare: number | null = null;
  return () => {
    if (spare !== null) {
      const value = spare;
      spare = null;
      return value;
    }
    const r = Math.sqrt(-2 * Math.log(1 - random()));
    const a = 2 * Math.PI * random();
    spare = r * Math.sin(a);
    return r * Math.cos(a);
  };
}
