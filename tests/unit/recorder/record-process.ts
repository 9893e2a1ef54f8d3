// Runs as a process of its own that is killed: records a port and says after each
// transaction up to which second everything is on the disk.
import { writeSync } from 'node:fs';
import { hostClock } from '../../../host/commands/host-clock.ts';
import { openSerialPort } from '../../../host/link/serial-port.ts';
import { realDisk } from '../../../host/recorder/disk.ts';
import { record } from '../../../host/recorder/record.ts';

const [port, out] = process.argv.slice(2);
await record({
  port: port!,
  out: out!,
  for_s: null,
  job: null,
  software: 'test',
  origin: null,
  signal: new AbortController().signal,
  clock: hostClock,
  openPort: openSerialPort,
  low_V: null,
  disk: realDisk,
  listPorts: () => Promise.resolve([]),
  onProgress: (p) => writeSync(1, `${p.recorded_s}\n`),
  onNote: (text) => writeSync(2, `${text}\n`),
});
