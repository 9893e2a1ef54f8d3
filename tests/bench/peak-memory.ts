// Analyses the long night alone in this process and prints how often its array would
// fit into the most memory that the process ever had.

import { analyse } from '../../host/analysis/analyse.ts';
import { DEFAULT_OPTIONS } from '../../host/analysis/findings.ts';
import { LONG_SAMPLES, LONG_WAKEUPS, longNight } from './kilohertz.ts';

const trace = longNight(LONG_SAMPLES, false);
if (analyse(trace, DEFAULT_OPTIONS).wakeups.length !== LONG_WAKEUPS) throw new Error('the long night was not read as it should');
console.log((process.resourceUsage().maxRSS * 1024) / trace.mean_mA.byteLength);
