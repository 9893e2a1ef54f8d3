// `report`: one night as one page for the job file and the customer, or as a whole job
// folder: capture, report and readings side by side under names that sort.

import { dirname } from 'node:path';
import { FORMATS, PAPERS } from '../report/report.ts';
import type { Format, Paper } from '../report/report.ts';
import { UsageError } from './command.ts';
import type { Command, OptionValues } from './command.ts';
import { putWhole, writeJobFolder } from './job-folder.ts';
import { NIGHT_CHOICES, NIGHT_OPTIONS, optionHelp, toldBy } from './night-options.ts';
import { readNight } from './report-file.ts';
import { workshopSettings } from './settings-file.ts';
import { answer } from './tell.ts';

export const command: Command = {
  help: `nightdraw report FILE --out X.html|X.pdf|X.png|X.svg
nightdraw report FILE --folder DIR

FILE is a capture or a CSV. --folder puts the capture, the report (PDF and HTML)
and the readings (CSV) into DIR, under the date and the name of FILE.

  ${'--out FILE'.padEnd(20)} what to write; an existing file is replaced
  ${'--folder DIR'.padEnd(20)} the job folder; made where it is not there
  ${'--before FILE'.padEnd(20)} the night before the repair, to compare with
  ${'--bay FILE'.padEnd(20)} the work in the bay, where another capture keeps it
  ${'--paper SIZE'.padEnd(20)} a4 or letter (a4)
  ${'--personal'.padEnd(20)} number plate, vehicle identity and customer too
${optionHelp()}`,
  options: {
    out: { type: 'string' },
    folder: { type: 'string' },
    paper: { type: 'string' },
    before: { type: 'string' },
    bay: { type: 'string' },
    personal: { type: 'boolean' },
    ...NIGHT_OPTIONS,
  },
  choices: { paper: Object.keys(PAPERS), ...NIGHT_CHOICES },
  positionals: 1,
  async run(values, positionals) {
    const path = positionals[0]!;
    const { out, folder } = values;
    if ((typeof out === 'string' && out !== '') === (typeof folder === 'string' && folder !== '')) {
      throw new UsageError('report takes one of --out and --folder; for example --out monday.pdf');
    }
    const paper = paperOf(values);
    const format = typeof out === 'string' && out !== '' ? formatOf(out) : null;
    const told = toldBy(values);
    const folders = [dirname(path), '.'];
    const workshop = workshopSettings(typeof values['settings'] === 'string' ? values['settings'] : undefined, folders);
    const night = await readNight({
      path,
      before: fileIn(values, 'before'),
      bay: fileIn(values, 'bay'),
      personal: values['personal'] === true,
      workshop,
      told,
      folders,
      singles: format !== null,
    });
    if (format !== null) {
      putWhole(out as string, await night.make(format, paper));
      answer(`${out as string}: written`);
      return 0;
    }
    for (const written of await writeJobFolder(folder as string, path, night, paper)) answer(`${written}: written`);
    return 0;
  },
};

function paperOf(values: OptionValues): Paper {
  const paper = values['paper'] ?? 'a4';
  if (typeof paper !== 'string' || !Object.hasOwn(PAPERS, paper))
    throw new UsageError(`--paper ${String(paper)} is neither a4 nor letter`);
  return paper as Paper;
}

function formatOf(out: string): Format {
  const format = FORMATS.find((name) => out.toLowerCase().endsWith(`.${name}`));
  if (format === undefined) throw new UsageError(`--out ${out} is none of .html, .pdf, .png and .svg`);
  return format;
}

function fileIn(values: OptionValues, option: string): string | null {
  const value = values[option];
  if (value === '') throw new UsageError(`--${option} names no file; give a capture`);
  return typeof value === 'string' ? value : null;
}
