// A line that a command says beside its answer.

export const tell = (line: string): void => void process.stderr.write(`nightdraw: ${line}\n`);
