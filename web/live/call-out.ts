// Says steps aloud as they happen: with the browser's voice where it has one, else with
// two notes. What is said stands in the page as well.

import type { LiveStep } from '../../host/server/api.ts';
import type { Tone } from './tone.ts';
import { spokenStep } from './words.ts';

export class CallOut {
  private readonly on = new Set<string>();

  constructor(private readonly tone: Tone) {
    // Some browsers list their voices only after they were asked once.
    if (hasSpeech()) speechSynthesis.getVoices();
  }

  isOn(name: string): boolean {
    return this.on.has(name);
  }

  set(name: string, on: boolean): void {
    if (!on) {
      this.on.delete(name);
      if (hasSpeech() && this.on.size === 0) speechSynthesis.cancel();
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

const hasSpeech = () => typeof speechSynthesis !== 'undefined';
const voiceIsThere = () => hasSpeech() && speechSynthesis.getVoices().length > 0;

function say(text: string): void {
  // What waits to be said is older than what is to be said now.
  speechSynthesis.cancel();
  const utterance = new SpeechSynthesisUtterance(text);
  utterance.lang = 'en';
  speechSynthesis.speak(utterance);
}
