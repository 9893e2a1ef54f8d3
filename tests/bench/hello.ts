// The greeting of the board that the bench's made-up recordings are of.

import type { Hello } from '../../host/contract/capture.ts';

export const HELLO: Hello = {
  kind: 'hello',
  proto: 1,
  fw: 'bench',
  mcu: 'bench',
  sensor: 'ina228',
  id: 1,
  boot: 1,
  cause: 'power',
  shunt_nOhm: 5_000_000,
  gain_ppm: 0,
  offset_nV: 0,
  window_us: 50_000,
  stream: 'windows',
  speed: 1,
};
