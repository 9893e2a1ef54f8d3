// The browser's voice, where it has one.

const hasSpeech = () => typeof speechSynthesis !== 'undefined';

/** Some browsers list their voices only after they were asked once. */
export function wakeVoice(): void {
  if (hasSpeech()) speechSynthesis.getVoices();
}

export const voiceIsThere = () => hasSpeech() && speechSynthesis.getVoices().length > 0;

export function hush(): void {
  if (hasSpeech()) speechSynthesis.cancel();
}

export function say(text: string): void {
  // What waits to be said is older than what is to be said now.
  speechSynthesis.cancel();
  const utterance = new SpeechSynthesisUtterance(text);
  utterance.lang = 'en';
  speechSynthesis.speak(utterance);
}
