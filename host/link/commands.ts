// Writes the lines that the host sends to the board (firmware/PROTOCOL.md, "Lines from the host").

import { checkCode } from './crc32.ts';

/** `firmware/PROTOCOL.md`, "Lines from the host". */
export type CommandLetter = 'h' | 'p' | 'i' | 's' | 'w' | 't' | 'z' | 'g' | 'u' | 'k' | 'f' | 'r' | 'n' | 'q' | 'b';

/** Largest tag; tags run from 1 to this and start again. */
export const TAG_MAX = 0xffff;

/**
 * A command as it goes on the wire, with its LF.
 * @param tag 1 to ffff: comes back in the answer
 * @param value for the commands that take one; only that of `g` may be negative
 */
export function formatCommand(letter: CommandLetter, tag: number, value?: number): string {
  const fields = [
    letter,
    tag.toString(16),
    ...(value === undefined ? [] : [value < 0 ? `-${(-value).toString(16)}` : value.toString(16)]),
  ];
  const body = `${fields.join(' ')} `;
  return `${body}${checkCode(body)}\n`;
}
