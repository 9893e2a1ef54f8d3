// Loaded ahead of the command: its wall clock is off by what a file says, read anew
// each time, so that a test sets the clock while it runs.
import { readFileSync } from 'node:fs';

const trueNow = Date.now.bind(Date);
Date.now = () => {
  try {
    return trueNow() + Number(readFileSync(process.env.CLOCK_FILE, 'utf8') || 0);
  } catch {
    return trueNow();
  }
};
