// `export`: a capture as CSV for other programs, or as JSON or Parquet that `import`
// reads back to the last digit.

import { once } from 'node:events';
import { createWriteStream, renameSync, rmSync, writeFileSync } from 'node:fs';
import { captureAsJson } from '../capture/exchange/export-json.ts';
import { csvLines } from '../capture/exchange/export-csv.ts';
import { writeParquet } from '../capture/exchange/export-parquet.ts';
import { openTrace } from '../night/open.ts';
import type { ReadOptions } from '../capture/read/reader.ts';
import { exportFleet } from './fleet.ts';
import { requiredText, UsageError } from './command.ts';
import type { Command } from './command.ts';
import { answer } from './tell.ts';

export const command: Command = {
  help: `nightdraw export FILE --out X.csv|X.json|X.parquet
nightdraw export FILE|CAPTURES --parquet FOLDER

CSV holds the trace as 'import' and spreadsheets read it. JSON and Parquet hold
the whole capture; 'nightdraw import' makes the same capture of either again.
Parquet has a row for each reading, for programs that read tables.

--parquet adds the findings of a capture, or of a folder of them, to a tree of
small Parquet files by workshop, car and date, for questions about many nights.
FOLDER/SPEC.md says what it holds, FOLDER/queries has ready SQL.

  --out FILE   what to write; an existing file is replaced
  --parquet FOLDER  the tree; made where it is not there
  --personal   number plate, vehicle identity, customer and the note on the car
               too (JSON and Parquet); without it they are left out
  --original   currents as the board had them, without a later calibration
               (CSV and Parquet; JSON has the board's numbers anyway)`,
  options: {
    out: { type: 'string' },
    parquet: { type: 'string' },
    personal: { type: 'boolean' },
    original: { type: 'boolean' },
  },
  positionals: 1,
  async run(values, positionals) {
    const path = positionals[0]!;
    if (values['parquet'] !== undefined) {
      if (values['out'] !== undefined || values['original'] === true)
        throw new UsageError('--parquet goes without --out and --original');
      return exportFleet(path, requiredText(values, 'parquet', 'fleet'), values['personal'] === true);
    }
    const out = requiredText(values, 'out', 'monday.csv');
    const draft = `${out}.draft-${process.pid}`;
    try {
      const personal = values['personal'] === true,
        original = values['original'] === true;
      if (/\.json$/i.test(out)) writeFileSync(draft, captureAsJson(path, personal));
      else if (/\.parquet$/i.test(out)) writeParquet(path, draft, { personal, original });
      else if (/\.csv$/i.test(out)) await writeCsv(path, draft, { original });
      else throw new UsageError(`--out ${out} is none of .csv, .json and .parquet`);
      renameSync(draft, out);
    } catch (error) {
      const { code, message } = error as NodeJS.ErrnoException;
      throw code === undefined
        ? error
        : new Error(`${out} cannot be written (${message}); check that its folder exists and may be written to`, {
            cause: error,
          });
    } finally {
      rmSync(draft, { force: true });
    }
    answer(`${out}: written`);
    return 0;
  },
};

async function writeCsv(path: string, out: string, options: ReadOptions): Promise<void> {
  const { trace, voltage, info } = await openTrace(path, options);
  const stream = createWriteStream(out);
  let text = '';
  for (const line of csvLines(trace, voltage, info?.marks ?? [])) {
    text += line;
    if (text.length < 1 << 16) continue;
    if (!stream.write(text)) await once(stream, 'drain');
    text = '';
  }
  stream.end(text);
  await once(stream, 'close');
}
