// The browser's voice, where it has one.

const hasSpeech = () => typeof speechSynthesis !== 'undefined';

let last: SpeechSynthesisUtterance | null = null;

/** Some browsers list their voices only after they were asked once. */
export function wakeVoice(): void {
  if (hasSpeech()) speechSynthesis.getVoices();
}

export const voiceIsThere = () => hasSpeech() && speechSynthesis.getVoices().length > 0;

export function hush(): void {
  if (hasSpeech()) speechSynthesis.cancel();
}

/** @param through called when it was said, or could not be */
export function say(text: string, through: () => void = () => undefined): void {
  // What waits to be said is older than what is to be said now.
  speechSynthesis.cancel();
  const utterance = new SpeechSynthesisUtterance(text);
  utterance.lang = 'en';
  last = utterance;
  // What was cut short by the next is not the end of what is said.
  const ended = () => last === utterance && through();
  utterance.addEventListener('end', ended);
  utterance.addEventListener('error', ended);
  speechSynthesis.speak(utterance);
}
