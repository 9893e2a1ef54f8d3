// How long the long forms run: half a minute of device time, an hour in `npm run soak`.
export const SOAK = process.env['NIGHTDRAW_SOAK'] === '1';
export const LONG_S = SOAK ? 3600 : 30;
/** Vitest's limit for one of them, on a machine several times slower than the emulation was measured on. */
export const LONG_TIMEOUT_MS = SOAK ? 3_600_000 : 90_000;
