// How long the long forms run: twenty seconds of device time, an hour in `npm run soak`.
export const SOAK = process.env['NIGHTDRAW_SOAK'] === '1';
export const LONG_S = SOAK ? 3600 : 20;
/** Vitest's limit for one of them, on a machine several times slower than the emulation was measured on. */
export const LONG_TIMEOUT_MS = SOAK ? 3_600_000 : 90_000;
