// What a command says: its answer, and lines beside it. A file's name, a job, a mark or a feed
// tree may come from a stranger, and a terminal obeys control characters (ECMA-48, 5.2).

const CONTROLS = /[\u0000-\u0008\u000b-\u001f\u007f-\u009f]/g;

/** Nothing is left that a terminal would obey; lines and columns stay. */
export const plainOf = (text: string): string => text.replace(CONTROLS, '\ufffd');

export const oneLineOf = (text: string): string => plainOf(text.replace(/\s*\n\s*/g, ' ')).replaceAll('\t', '\ufffd');

/** The answer of a command. */
export const answer = (text: string): void => console.log(plainOf(text));

/** A line beside the answer. */
export const tell = (line: string): void => void process.stderr.write(`nightdraw: ${oneLineOf(line)}\n`);
