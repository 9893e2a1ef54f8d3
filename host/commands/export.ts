// `export`: a capture as CSV for other programs, or as JSON that `import` reads back
// to the last digit.

import { once } from 'node:events';
import { createWriteStream, renameSync, rmSync, writeFileSync } from 'node:fs';
import { captureAsJson } from '../capture/export-json.ts';
import { csvLines } from '../capture/export-csv.ts';
import { openTrace } from '../capture/open.ts';
import { requiredText, UsageError } from './command.ts';
import type { Command } from './command.ts';

export const command: Command = {
  summary: 'writes a capture as CSV or JSON',
  help: `nightdraw export FILE --out X.csv|X.json

CSV holds the trace as 'import' and spreadsheets read it. JSON holds the whole
capture; 'nightdraw import X.json' makes the same capture of it again.

  --out FILE   what to write; an existing file is replaced`,
  options: { out: { type: 'string' } },
  positionals: 1,
  async run(values, positionals) {
    const path = positionals[0]!;
    const out = requiredText(values, 'out', 'monday.csv');
    const draft = `${out}.draft-${process.pid}`;
    try {
      if (/\.json$/i.test(out)) writeFileSync(draft, captureAsJson(path));
      else if (/\.csv$/i.test(out)) await writeCsv(path, draft);
      else throw new UsageError(`--out ${out} is neither .csv nor .json`);
      renameSync(draft, out);
    } catch (error) {
      const { code, message } = error as NodeJS.ErrnoException;
      throw code === undefined ? error : new Error(`${out} cannot be written (${message}); check that its folder exists and may be written to`, { cause: error });
    } finally {
      rmSync(draft, { force: true });
    }
    console.log(`${out}: written`);
    return 0;
  },
};

async function writeCsv(path: string, out: string): Promise<void> {
  const { trace, voltage, info } = await openTrace(path);
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
