// A line that a command says beside its answer.

/** One line, in which nothing is left that a terminal would obey: a file's name may hold it. */
export const oneLineOf = (text: string): string => text.replace(/\s*\n\s*/g, ' ').replace(/[\u0000-\u001f\u007f-\u009f]/g, '\ufffd');

export const tell = (line: string): void => void process.stderr.write(`nightdraw: ${oneLineOf(line)}\n`);
