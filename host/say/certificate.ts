// What a board's certificate says, in one wording for terminal, page and report.
import type { Certificate } from '../contract/capture.ts';
import { current } from './quantities.ts';

/**
 * `checked on 2026-11-30, by A. Miller, within 0.8 % of the meter and 0.11 mA at rest`.
 * @param cal_gen calibrations stored so far, as the hello tells it: a later one is said
 */
export function checkedWords(certificate: Certificate, cal_gen: number | undefined): string {
  const { checked_ms, by, share_ppm, zero_uA } = certificate;
  return [
    `checked on ${new Date(checked_ms).toISOString().slice(0, 10)}`,
    ...(by === '' ? [] : [`by ${by}`]),
    `within ${(share_ppm / 1e4).toFixed(1)} % of the meter and ${current(zero_uA / 1000)} at rest`,
    ...(cal_gen === undefined || cal_gen === certificate.cal_gen ? [] : ['calibrated anew since']),
  ].join(', ');
}
