// `analyse`: what a capture or a CSV shows and means, in words or as one JSON object.

import { dirname } from 'node:path';
import type { Certificate } from '../contract/capture.ts';
import { judgedNight } from '../night/judge.ts';
import type { Command } from './command.ts';
import { NIGHT_CHOICES, NIGHT_OPTIONS, nightOptions, optionHelp, toldBy } from './night-options.ts';
import { checkedWords } from '../say/certificate.ts';
import { sentence } from './columns.ts';
import { inWords } from './night-words.ts';
import { answer, tell } from './tell.ts';
import { workshopSettings } from './settings-file.ts';

export const command: Command = {
  help: `nightdraw analyse FILE [--json] [--allow mA] [--step mA] [--hold S] [--rise mA]
                       [--battery TYPE] [--capacity Ah] [--dead-after DAYS] ...

FILE is a capture or a CSV with a time and a current column.

  ${'--json'.padEnd(20)} one JSON object instead of words
  ${'--original'.padEnd(20)} currents without a later calibration
${optionHelp()}`,
  options: { json: { type: 'boolean' }, original: { type: 'boolean' }, ...NIGHT_OPTIONS },
  choices: NIGHT_CHOICES,
  positionals: 1,
  async run(values, positionals) {
    const path = positionals[0]!;
    const told = toldBy(values);
    const named = typeof values['settings'] === 'string' ? values['settings'] : undefined;
    const workshop = workshopSettings(named, [dirname(path), '.']);
    // Wrong use is told before a long file is read.
    nightOptions(workshop, told);
    const {
      opened: { info, bay: inBay },
      night,
    } = await judgedNight(path, { workshop, asked: told }, { original: values['original'] === true });
    // Most nights have no such work: they need not load what reads it.
    const papers = inBay ? await import('./bay-results.ts') : null;
    const bay = papers?.resultsIn(path, info, tell) ?? null;
    const certificate = info?.certificate ?? null;
    if (values['json'] === true) {
      const whole = { ...night, ...(bay && { bay }), ...(certificate && { certificate: nameless(certificate) }) };
      answer(JSON.stringify(whole, null, 2));
    } else {
      answer(bay === null ? inWords(night) : `${inWords(night)}\n\n${papers!.resultsInWords(bay, night.trace.start)}`);
      if (certificate !== null)
        answer(`\n${sentence(`Board: ${checkedWords(certificate, info!.runs.at(-1)?.hello.cal_gen)}.`)}`);
    }
    return 0;
  },
};

/** Who proved the board is a person's name, and stays out of what programs pass on. */
function nameless({ checked_ms, share_ppm, zero_uA, cal_gen }: Certificate): Omit<Certificate, 'by'> {
  return { checked_ms, share_ppm, zero_uA, cal_gen };
}
