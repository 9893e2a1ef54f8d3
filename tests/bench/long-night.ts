// A night of twelve hours at a thousand samples a second, 43.2 million, as `record`
// writes it: what the page and the window queries are timed with.

import { writeImported } from '../../host/capture/exchange/import-draft.ts';
import { HELLO } from './hello.ts';
import type { WindowReading } from '../../host/contract/capture.ts';
import { normalFrom, randomFrom } from '../unit/analysis/night.ts';

export const HOURS = 12;
const SAMPLES = HOURS * 3_600_000;
const STEP_us = 1000;
const BATCH = 8192;
const SEED = 11;

/** A level, noise, and a wake-up of 400 mA every ten minutes; µA. */
export function currents(): Int32Array {
  const normal = normalFrom(randomFrom(SEED));
  const noise = Float64Array.from({ length: 65_537 }, () => 300 * normal());
  return Int32Array.from({ length: SAMPLES }, (_, i) =>
    Math.round(19_000 + noise[i % noise.length]! + (i % 600_000 < 3000 ? 400_000 : 0)),
  );
}

export async function writeLongNight(path: string, all: Int32Array): Promise<void> {
  const about = { kind: 'recorded', software: 'bench', created_ms: 0, axis_ms: 0, job: null, origin: null } as const;
  await writeImported(path, about, (writer) => {
    const run = writer.beginRun({ reason: 'start', hello: { ...HELLO, window_us: STEP_us }, began_ms: 0 });
    const clock = [{ t_us: 0, axis_us: 0 }];
    let charge_nC = 0;
    for (let from = 0; from < SAMPLES; from += BATCH) {
      const readings = Array.from({ length: Math.min(BATCH, SAMPLES - from) }, (_, i): WindowReading => {
        const seq = from + i,
          mean_uA = all[seq]!;
        charge_nC += Math.round((mean_uA * STEP_us) / 1000);
        return {
          kind: 'window',
          seq,
          t_us: (seq + 1) * STEP_us,
          dur_us: STEP_us,
          count: 1,
          mean_uA,
          min_uA: mean_uA,
          max_uA: mean_uA,
          charge_nC,
          flags: 0,
        };
      });
      writer.commit({ run, readings, clock });
    }
    return Promise.resolve();
  });
}
