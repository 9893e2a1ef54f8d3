// How soon a window that a board sends stands on the screen: the emulated board's wire, the
// real server, the live page in Debian's chromium.

import { findBoards, LiveStage, switchedCar } from '../browser/live-stage.ts';
import type { Figure } from './figures.ts';

const WINDOWS = 200;

export async function liveFigures(): Promise<Figure[]> {
  const stage = new LiveStage();
  try {
    await stage.open([switchedCar(640, 180)]);
    await stage.serve();
    const page = await stage.page(1280);
    await findBoards(page, 1);
    await stage.begin(page, 0);
    const lags_ms = await stage.lags_ms(page, 0, WINDOWS);
    return [
      {
        name: 'live_lag_ms',
        meaning: 'from the wire to painted pixels, nine of ten windows within',
        value: lags_ms[Math.floor(0.9 * WINDOWS)]!,
        unit: 'ms',
      },
    ];
  } finally {
    await stage.close();
  }
}
