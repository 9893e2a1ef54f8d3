// The firmware image's size and how long it keeps the CPU awake. The emulation's
// own speed is told, but has no ceiling: it would hold the machine, not the code.

import { readFileSync } from 'node:fs';
import { getScenario } from '../../host/emulator/car/scenarios.ts';
import { EmulatedBoard } from '../../host/emulator/board.ts';
import { timed_ms } from './figures.ts';
import type { Figure } from './figures.ts';

const IMAGE = new URL('../../firmware/images/nightdraw-atmega328p.hex', import.meta.url);
const FLASH_BYTES = 32768;
const RUN_S = 60;

/** Bytes of data records in an Intel HEX text. */
function hexBytes(text: string): number {
  let bytes = 0;
  for (const line of text.split(/\r?\n/))
    if (line.startsWith(':') && line.slice(7, 9) === '00') bytes += parseInt(line.slice(1, 3), 16);
  return bytes;
}

export async function boardFigures(): Promise<Figure[]> {
  const image = readFileSync(IMAGE, 'utf8');
  const { car } = getScenario('quiet')!;
  let lines = 0;
  const board = new EmulatedBoard({
    image,
    car,
    seed: 1,
    id: 1,
    speed: 1,
    onByte: (byte) => void (lines += byte === 10 ? 1 : 0),
  });
  board.runFor(1);
  const spent_ms = await timed_ms(() => board.runFor(RUN_S));
  if (lines < RUN_S * 20) throw new Error(`the board sent ${lines} lines in ${RUN_S} s`);
  console.log(`      (emulated ${(RUN_S / (spent_ms / 1000)).toFixed(0)} times faster than real time)`);
  return [
    {
      name: 'flash_percent',
      meaning: "image, of an ATmega328P's flash",
      value: (100 * hexBytes(image)) / FLASH_BYTES,
      unit: '%',
    },
    {
      name: 'cpu_awake_percent',
      meaning: 'CPU awake in the default stream, of device time',
      value: 100 * board.stats().awakeShare,
      unit: '%',
    },
  ];
}
