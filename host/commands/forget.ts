// `forget`: takes out of a capture what may name a person or a car.

import { basename, dirname } from 'node:path';
import { forgetPrivate } from '../capture/store/amend.ts';
import { forgetInIndex } from '../server/shelf/index-file.ts';
import type { Command } from './command.ts';
import { answer } from './tell.ts';

export const command: Command = {
  help: `nightdraw forget FILE

Removes job text, number plate, vehicle identity, customer, who proved the
board, the note on the car, the texts of marks, the name of an imported file, and what was noted as
evidence in the bay. The readings stay as they are, and what was found in the bay. What the list
of the captures in its folder knew of it is taken out too; reports and exports are not touched.`,
  options: {},
  positionals: 1,
  run(_values, positionals) {
    const found = forgetPrivate(positionals[0]!);
    forgetInIndex(dirname(positionals[0]!), basename(positionals[0]!));
    answer(
      found.length === 0
        ? `${positionals[0]}: nothing was there to remove`
        : `${positionals[0]}: removed ${found.join(', ')}`,
    );
    return Promise.resolve(0);
  },
};
