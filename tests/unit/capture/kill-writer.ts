// Runs as a process of its own that is killed: appends windows to a capture as fast
// as the disk takes them, and says after each transaction how many are acknowledged.
import { writeSync } from 'node:fs';
import { readResumePoint } from '../../../host/capture/store/resume.ts';
import type { WindowReading } from '../../../host/contract/capture.ts';
import { CaptureWriter } from '../../../host/capture/store/writer.ts';

/** The window that has number `seq`: every field tells the number. */
export function numbered(seq: number): WindowReading {
  return {
    kind: 'window',
    seq,
    t_us: (seq + 1) * 50_000,
    dur_us: 50_000,
    count: 40 + (seq % 10),
    mean_uA: seq,
    min_uA: seq - 5,
    max_uA: seq + 7,
    charge_nC: 25 * seq * (seq + 1),
    flags: seq % 64,
  };
}

function write(path: string): void {
  const from = readResumePoint(path).last.find((last) => last.kind === 'window');
  const writer = new CaptureWriter(path);
  let seq = from === undefined ? 0 : from.seq + 1;
  writeSync(1, `${seq}\n`);
  for (;;) {
    const readings = Array.from({ length: 1 + (seq % 23) }, (_, i) => numbered(seq + i));
    writer.commit({ run: 1, readings });
    seq += readings.length;
    writeSync(1, `${seq}\n`);
  }
}

if (process.argv[2] === 'write') write(process.argv[3]!);
