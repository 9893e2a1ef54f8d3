// A capture of windows as `record` writes it, for the benches: from readings, or from a
// trace of simulated windows.

import { writeImported } from '../../host/capture/exchange/import-draft.ts';
import { HELLO } from './hello.ts';
import type { Trace, WindowReading } from '../../host/contract/capture.ts';

const BATCH = 4096;

/** The readings of a trace of windows; running charge included. */
export function* readingsOf({ mean_mA, min_mA, max_mA, dur_s }: Trace): Generator<WindowReading> {
  let charge_nC = 0;
  let t_us = 0;
  for (let seq = 0; seq < mean_mA.length; seq++) {
    const dur_us = Math.round(dur_s![seq]! * 1e6);
    t_us += dur_us;
    const mean_uA = Math.round(mean_mA[seq]! * 1000);
    charge_nC += Math.round((mean_uA * dur_us) / 1000);
    yield {
      kind: 'window',
      seq,
      t_us,
      dur_us,
      count: 47,
      mean_uA,
      charge_nC,
      flags: 0,
      min_uA: Math.round(min_mA![seq]! * 1000),
      max_uA: Math.round(max_mA![seq]! * 1000),
    };
  }
}

export async function writeWindows(path: string, all: Iterable<WindowReading>): Promise<void> {
  const about = { kind: 'recorded', software: 'bench', created_ms: 0, axis_ms: 0, job: null, origin: null } as const;
  await writeImported(path, about, async (writer) => {
    const run = writer.beginRun({ reason: 'start', hello: HELLO, began_ms: 0 });
    const clock = [{ t_us: 0, axis_us: 0 }];
    let readings: WindowReading[] = [];
    for (const reading of all) {
      readings.push(reading);
      if (readings.length === BATCH) {
        writer.commit({ run, readings, clock });
        readings = [];
      }
    }
    writer.commit({ run, readings, clock });
    await Promise.resolve();
  });
}
