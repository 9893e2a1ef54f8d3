// `import`: turns another meter's CSV into a capture.

import { importCsv } from '../capture/csv.ts';
import { requiredText } from './command.ts';
import type { Command } from './command.ts';

declare const NIGHTDRAW_VERSION: string;

export const command: Command = {
  summary: 'turns a CSV into a capture',
  help: `nightdraw import FILE.csv --out FILE [--job TEXT]

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
    const { samples } = await importCsv(positionals[0]!, out, { software: NIGHTDRAW_VERSION, created_ms: Date.now(), job });
    console.log(`${out}: ${samples} samples`);
    return 0;
  },
};
