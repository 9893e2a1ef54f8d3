// Analyses the long night alone in this process and prints how often its array would
// fit into the most memory that the process ever had. Linux tells that of this program
// alone; the kernel's own count for a child begins with what its parent had.

import { readFileSync } from 'node:fs';
import { analyse } from '../../host/analysis/night/analyse.ts';
import { DEFAULT_OPTIONS } from '../../host/contract/settings.ts';
import { LONG_SAMPLES, LONG_WAKEUPS, longNight } from './kilohertz.ts';

const trace = longNight(LONG_SAMPLES, false);
if (analyse(trace, DEFAULT_OPTIONS).wakeups.length !== LONG_WAKEUPS)
  throw new Error('the long night was not read as it should');
const peak_kB = Number(/^VmHWM:\s+(\d+) kB$/m.exec(readFileSync('/proc/self/status', 'utf8'))?.[1]);
if (!(peak_kB > 0)) throw new Error('this system does not tell the most memory that a process had');
console.log((peak_kB * 1024) / trace.mean_mA.byteLength);
