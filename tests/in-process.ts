// A command as it is typed, called in this process: what it prints, and its exit code.

import { vi } from 'vitest';
import { run } from '../host/commands/run.ts';

export interface Ended {
  status: number;
  stdout: string;
  stderr: string;
}

/** One at a time: the words of two would run together. */
export async function nightdraw(...args: string[]): Promise<Ended> {
  let stdout = '',
    stderr = '';
  const log = vi.spyOn(console, 'log').mockImplementation((text: unknown) => void (stdout += `${String(text)}\n`));
  const out = vi.spyOn(process.stdout, 'write').mockImplementation((text) => ((stdout += String(text)), true));
  const err = vi.spyOn(process.stderr, 'write').mockImplementation((text) => ((stderr += String(text)), true));
  try {
    return { status: await run(args), stdout, stderr };
  } finally {
    log.mockRestore();
    out.mockRestore();
    err.mockRestore();
  }
}
