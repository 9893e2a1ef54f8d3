// Seeded random numbers, so that every night can be made again. Generator: sfc32
// (C. Doty-Humphrey, PractRand), 128 bits of state.

/** Returns numbers from 0 up to 1, the same for the same seed. */
export function seededRandom(seed: number): () => number {
  let a = 0x9e3779b9 ^ seed;
  let b = 0x243f6a88 + Math.imul(seed, 0x85ebca6b);
  let c = 0xb7e15162 ^ (seed >>> 16);
  let d = 1;
  const next = () => {
    const t = (((a + b) | 0) + d) | 0;
    d = (d + 1) | 0;
    a = b ^ (b >>> 9);
    b = (c + (c << 3)) | 0;
    c = (((c << 21) | (c >>> 11)) + t) | 0;
    return (t >>> 0) / 2 ** 32;
  };
  // Nearby seeds differ in few bits; these rounds spread them.
  for (let i = 0; i < 20; i++) next();
  return next;
}

/** Standard normal numbers by the polar method (Marsaglia and Bray, 1964). */
export function gaussian(random: () => number): () => number {
  let spare: number | null = null;
  return () => {
    if (spare !== null) {
      const value = spare;
      spare = null;
      return value;
    }
    for (;;) {
      const x = 2 * random() - 1;
      const y = 2 * random() - 1;
      const s = x * x + y * y;
      if (s >= 1 || s === 0) continue;
      const factor = Math.sqrt((-2 * Math.log(s)) / s);
      spare = y * factor;
      return x * factor;
    }
  };
}
