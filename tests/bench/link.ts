// Speed of the line parser against bare @serialport/parser-readline that only
// counts lines, on the same bytes in the same run.

import { ReadlineParser } from '@serialport/parser-readline';
import { checkCode } from '../../host/link/crc32.ts';
import { parseLine } from '../../host/link/lines.ts';
import { ratioOf } from './figures.ts';
import type { Figure } from './figures.ts';

const LINES = 100_000;
/** What a serial port hands over at once. */
const CHUNK_BYTES = 4096;

function stream(): Buffer {
  const lines: string[] = [];
  let charge_nC = 0;
  for (let seq = 0; seq < LINES; seq++) {
    const mean_uA = 19_000 + ((seq * 7919) % 800);
    charge_nC += Math.round(mean_uA * 0.05 * 1000);
    const body = `W ${seq.toString(16)} ${((seq + 1) * 50_000).toString(16)} c350 30 ${mean_uA.toString(16)} ${(mean_uA - 900).toString(16)} ${(mean_uA + 900).toString(16)} ${charge_nC.toString(16)} 0 `;
    lines.push(body + checkCode(body) + '\n');
  }
  return Buffer.from(lines.join(''), 'latin1');
}

async function pour(bytes: Buffer, onLine: (line: string) => void): Promise<void> {
  const parser = new ReadlineParser({ delimiter: '\n', encoding: 'latin1' });
  parser.on('data', onLine);
  for (let at = 0; at < bytes.length; at += CHUNK_BYTES) parser.write(bytes.subarray(at, at + CHUNK_BYTES));
  await new Promise<void>((resolve) => parser.end(resolve));
}

export async function linkFigures(): Promise<Figure[]> {
  const bytes = stream();
  let count = 0;
  const bare = () => pour(bytes, () => void count++);
  const checked = () =>
    pour(bytes, (line) => {
      const parsed = parseLine(line);
      if (parsed.kind !== 'window') throw new Error(`a good line was refused: ${line}`);
    });
  const value = await ratioOf(checked, bare);
  return [
    {
      name: 'parse_ratio',
      meaning: 'lines split, checked and parsed, against lines split and counted',
      value,
      unit: 'times',
    },
  ];
}
