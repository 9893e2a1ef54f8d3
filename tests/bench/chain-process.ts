// Runs as a process of its own: reads a port for some seconds, bare or as the recorder
// does, and prints the CPU microseconds that a reading took.
import { ReadlineParser } from '@serialport/parser-readline';
import { SerialPort } from 'serialport';
import { hostClock } from '../../host/commands/host-clock.ts';
import { openSerialPort } from '../../host/link/serial-port.ts';
import { realDisk } from '../../host/recorder/disk.ts';
import { LiveFeed } from '../../host/recorder/live.ts';
import { record } from '../../host/recorder/record.ts';

const [mode, path, out, length_s] = process.argv.slice(2) as [string, string, string, string];
/** Loading and connecting are no part of a night. */
const SETTLE_MS = 2000;

let readings = 0;
let before: { cpu: NodeJS.CpuUsage; readings: number } | null = null;
setTimeout(() => (before = { cpu: process.cpuUsage(), readings }), SETTLE_MS);

function tell(): void {
  const { user, system } = process.cpuUsage(before!.cpu);
  console.log((user + system) / (readings - before!.readings));
}

if (mode === 'bare') {
  const port = new SerialPort({ path, baudRate: 500_000 });
  port.pipe(new ReadlineParser({ delimiter: '\n' })).on('data', () => readings++);
  setTimeout(
    () => {
      tell();
      process.exit(0);
    },
    Number(length_s) * 1000,
  );
} else {
  const stop = new AbortController();
  const live = new LiveFeed();
  live.subscribe(() => readings++);
  setTimeout(
    () => {
      tell();
      stop.abort();
    },
    Number(length_s) * 1000,
  );
  await record({
    port: path,
    out,
    for_s: null,
    job: null,
    software: 'bench',
    origin: null,
    signal: stop.signal,
    low_V: null,
    disk: realDisk,
    live,
    listPorts: () => Promise.resolve([]),
    onProgress: () => undefined,
    onNote: () => undefined,
    clock: hostClock,
    openPort: openSerialPort,
  });
}
