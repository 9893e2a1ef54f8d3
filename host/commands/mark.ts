// `mark`: a note on a capture's time axis.

import { addMark } from '../capture/store/amend.ts';
import { optionalMoment, requiredText, UsageError } from './command.ts';
import type { Command } from './command.ts';
import { answer } from './tell.ts';

export const command: Command = {
  help: `nightdraw mark FILE --at 1h30m --text TEXT

  --at TIME     from the first sample: 90s, 45m, 1h30m
  --text TEXT   what happened then`,
  options: { at: { type: 'string' }, text: { type: 'string' } },
  positionals: 1,
  run(values, positionals) {
    const at_s = optionalMoment(values, 'at');
    if (at_s === undefined) throw new UsageError('--at is missing; for example --at 1h30m');
    addMark(positionals[0]!, at_s, requiredText(values, 'text', "'driver door opened'"));
    answer(`${positionals[0]}: marked`);
    return Promise.resolve(0);
  },
};
