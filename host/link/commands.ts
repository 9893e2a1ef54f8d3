// Writes the lines that the host sends to the board (firmware/PROTOCOL.md, "Lines from the host").

import { checkCode } from './crc32.ts';

export type CommandLetter = 'h' | 'p' | 'i';

/** Largest tag; tags run from 1 to this and start again. */
export const TAG_MAX = 0xffff;

/**
 * A command as it goes on the wire, with its LF.
 * @param tag 1 to ffff: comes back in the answer
 * @param value the new number of the board, for `i` alone, 1 to ffffffff
 */
export function formatCommand(letter: CommandLetter, tag: number, value?: number): string {
  const fields = [letter, tag.toString(16), ...(value === undefined ? [] : [value.toString(16)])];
  const body = `${fields.join(' ')} `;
  return `${body}${checkCode(body)}\n`;
}
