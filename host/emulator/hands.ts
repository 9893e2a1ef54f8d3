// Hands at the modelled car: a text file names what is out, one name a line (`bridge`:
// the bridge is on). Write it anew, and the car changes within a tenth of a second.
import { readFileSync } from 'node:fs';

const LOOK_EVERY_MS = 100;

export class Hands {
  private text = '';
  private looked_ms = -Infinity;

  constructor(private readonly path: string) {}

  /** What is out now, if that changed since the last call; null otherwise, and where the file is not there. */
  changed(now_ms: number): ReadonlySet<string> | null {
    if (now_ms - this.looked_ms < LOOK_EVERY_MS) return null;
    this.looked_ms = now_ms;
    let text: string;
    try {
      text = readFileSync(this.path, 'utf8');
    } catch {
      return null;
    }
    if (text === this.text) return null;
    this.text = text;
    return new Set(
      text
        .split('\n')
        .map((line) => line.trim())
        .filter((line) => line !== ''),
    );
  }
}
