// `npm run bench`: speed and size as ratios within one run, against stored
// ceilings. Fails where a figure is over its ceiling.

import { readFileSync } from 'node:fs';
import { analysisFigures } from './analysis.ts';
import { boardFigures } from './board.ts';
import { chainFigures } from './chain.ts';
import { captureFigures } from './capture.ts';
import { csvFigures } from './csv.ts';
import { report } from './figures.ts';
import { linkFigures } from './link.ts';
import { rawFigures } from './raw.ts';
import { shellFigures } from './shell.ts';
import { windowQueryFigures } from './window-queries.ts';

const ceilings = JSON.parse(readFileSync(new URL('ceilings.json', import.meta.url), 'utf8')) as Record<string, number>;

const figures = [
  ...(await linkFigures()),
  ...(await chainFigures()),
  ...(await captureFigures()),
  ...(await csvFigures()),
  ...(await rawFigures()),
  ...(await analysisFigures()),
  ...(await shellFigures()),
  ...(await windowQueryFigures()),
  ...(await boardFigures()),
];
process.exitCode = report(figures, ceilings) ? 0 : 1;
