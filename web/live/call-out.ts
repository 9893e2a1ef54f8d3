// Says steps aloud as they happen: with the browser's voice where it has one, else with
// two notes. What is said stands in the page as well.

import type { LiveStep } from '../../host/contract/api.ts';
import type { Tone } from './tone.ts';
import { hush, say, voiceIsThere, wakeVoice } from './voice.ts';
import { spokenStep } from './words.ts';

export class CallOut {
  private readonly on = new Set<string>();

  constructor(private readonly tone: Tone) {
    wakeVoice();
  }

  isOn(name: string): boolean {
    return this.on.has(name);
  }

  set(name: string, on: boolean): void {
    if (!on) {
      this.on.delete(name);
      if (this.on.size === 0) hush();
      return;
    }
    this.on.add(name);
    // Within the press of the button, so that later ones are let through; and it is heard that it works.
    if (voiceIsThere()) say('Steps are said aloud.');
    else this.tone.signal(true);
  }

  /** How it is done here, in words. */
  get manner(): string {
    return voiceIsThere() ? 'spoken' : 'two notes, up or down: this browser has no voice';
  }

  /** @param board said before it where several are being recorded; null for one */
  step(name: string, step: LiveStep, board: string | null): void {
    if (!this.on.has(name)) return;
    if (voiceIsThere()) say(`${board === null ? '' : `${board}. `}${spokenStep(step)}`);
    else this.tone.signal(step.to_mA > step.from_mA);
  }
}
