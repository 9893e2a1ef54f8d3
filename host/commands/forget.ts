// `forget`: takes out of a capture what may name a person or a car.

import { forgetPrivate } from '../capture/store/amend.ts';
import type { Command } from './command.ts';
import { answer } from './tell.ts';

export const command: Command = {
  help: `nightdraw forget FILE

Removes job text, number plate, vehicle identity, customer, who proved the
board, the note on the car, the texts of marks, the name of an imported file, and what was noted as
evidence in the bay. The readings stay as they are, and what was found in the bay.`,
  options: {},
  positionals: 1,
  run(_values, positionals) {
    const found = forgetPrivate(positionals[0]!);
    answer(
      found.length === 0
        ? `${positionals[0]}: nothing was there to remove`
        : `${positionals[0]}: removed ${found.join(', ')}`,
    );
    return Promise.resolve(0);
  },
};
