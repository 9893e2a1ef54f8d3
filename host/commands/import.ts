// `import`: turns another meter's CSV, or what `export` wrote, into a capture.

import { readFileSync } from 'node:fs';
import { importCsv } from '../capture/exchange/csv.ts';
import { captureFromJson } from '../capture/exchange/export-json.ts';
import { captureFromParquet } from '../capture/exchange/import-parquet.ts';
import { unreadable } from '../capture/format/schema.ts';
import { requiredText } from './command.ts';
import type { Command } from './command.ts';
import { answer } from './tell.ts';

declare const NIGHTDRAW_VERSION: string;

export const command: Command = {
  help: `nightdraw import FILE.csv --out FILE [--job TEXT]
nightdraw import FILE.json|FILE.parquet --out FILE

JSON and Parquet are what 'nightdraw export' wrote: the capture comes back as it was.

The CSV needs a time column (t_s, or time in ISO 8601) and a current column
(current_mA, current_A or current_uA). It may have min_ and max_ columns of the
same and voltage_V or voltage_mV. Comma, semicolon or tab between the columns;
a decimal comma with the latter two.

  --out FILE   the capture to make; an existing file is never overwritten
  --job TEXT   what the capture is about`,
  options: { out: { type: 'string' }, job: { type: 'string' } },
  positionals: 1,
  async run(values, positionals) {
    const out = requiredText(values, 'out', 'captures/monday.nightdraw');
    const job = typeof values['job'] === 'string' ? values['job'] : null;
    const from = positionals[0]!;
    const { samples } = await (/\.json$/i.test(from)
      ? captureFromJson(textOf(from), from, out)
      : /\.parquet$/i.test(from)
        ? captureFromParquet(from, out)
        : importCsv(from, out, { software: NIGHTDRAW_VERSION, created_ms: Date.now(), job }));
    answer(`${out}: ${samples} samples`);
    return 0;
  },
};

function textOf(path: string): string {
  try {
    return readFileSync(path, 'utf8');
  } catch (error) {
    throw new Error(unreadable(path, error as NodeJS.ErrnoException), { cause: error });
  }
}
