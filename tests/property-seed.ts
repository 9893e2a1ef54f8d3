// Property tests draw from one seed: a fixed one in `npm test`, one of the hour and twenty
// times the cases in `npm run soak`. A failure prints seed and path.
import fc from 'fast-check';
import { seedOf } from './seeds.ts';

fc.configureGlobal({ seed: seedOf(20_301_014), ...(process.env['NIGHTDRAW_SOAK'] === '1' ? { numRuns: 2000 } : {}) });
