// `npm run bench`: speed and size as ratios within one run, against stored
// ceilings. Fails where a figure is over its ceiling. `npm run bench -- report fleet`
// measures those groups alone.

import { readFileSync } from 'node:fs';
import { analysisFigures } from './analysis.ts';
import { attackFigures } from './attacks.ts';
import { boardFigures } from './board.ts';
import { chainFigures } from './chain.ts';
import { captureFigures } from './capture.ts';
import { csvFigures } from './csv.ts';
import { report } from './figures.ts';
import type { Figure } from './figures.ts';
import { fleetFigures } from './fleet.ts';
import { linkFigures } from './link.ts';
import { liveFigures } from './live.ts';
import { rawFigures } from './raw.ts';
import { reportFigures } from './report.ts';
import { shellFigures } from './shell.ts';
import { windowQueryFigures } from './window-queries.ts';

const GROUPS: Record<string, () => Figure[] | Promise<Figure[]>> = {
  link: linkFigures,
  chain: chainFigures,
  capture: captureFigures,
  csv: csvFigures,
  raw: rawFigures,
  analysis: analysisFigures,
  shell: shellFigures,
  window: windowQueryFigures,
  report: reportFigures,
  fleet: fleetFigures,
  live: liveFigures,
  attacks: attackFigures,
  board: boardFigures,
};

const ceilings = JSON.parse(readFileSync(new URL('ceilings.json', import.meta.url), 'utf8')) as Record<string, number>;
const asked = process.argv.slice(2);
const unknown = asked.find((name) => !Object.hasOwn(GROUPS, name));
if (unknown !== undefined) throw new Error(`there is no group ${unknown}; there are ${Object.keys(GROUPS).join(', ')}`);

const figures: Figure[] = [];
for (const [name, measure] of Object.entries(GROUPS))
  if (asked.length === 0 || asked.includes(name)) figures.push(...(await measure()));
process.exitCode = report(figures, ceilings) ? 0 : 1;
