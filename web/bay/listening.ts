// Answers by voice, where the browser understands speech on this device. Nothing that is
// said leaves it: without that the page does not listen at all.

import { wordsOf } from '../ask.ts';

/** The part of the Web Speech API (Draft Community Group Report) that is used; TypeScript does not know it yet. */
interface Recognition extends EventTarget {
  lang: string;
  continuous: boolean;
  processLocally: boolean;
  start(): void;
  abort(): void;
}
interface Languages {
  langs: string[];
  processLocally: boolean;
}
interface RecognitionClass {
  new (): Recognition;
  available?(options: Languages): Promise<string>;
  install?(options: Languages): Promise<boolean>;
}
interface ResultEvent extends Event {
  resultIndex: number;
  results: ArrayLike<{ isFinal: boolean } & ArrayLike<{ transcript: string }>>;
}

const LANGUAGE = 'en-US';

const recognitionClass = () => (globalThis as { SpeechRecognition?: RecognitionClass }).SpeechRecognition;

/** Whether this browser could; whether it has the language is asked when somebody wants it. */
export const couldHear = (): boolean => typeof recognitionClass()?.available === 'function';

/**
 * Sees to it that this device understands the language by itself; a browser that can, loads it once.
 * @param tell in words, while it loads
 * @returns null where it does, else why not, in words
 */
async function whyNot(tell: (words: string) => void): Promise<string | null> {
  const here = { langs: [LANGUAGE], processLocally: true };
  try {
    const state = await recognitionClass()!.available!(here);
    if (state === 'available') return null;
    if (state === 'unavailable') return 'this browser has no English speech for this device';
    tell('the browser loads English speech onto this device, once');
    return (await recognitionClass()!.install?.(here)) === true
      ? null
      : 'the browser could not load English speech; it needs the network for that, once';
  } catch (error) {
    return `this browser does not listen: ${wordsOf(error)}`;
  }
}

export class Listening {
  private ear: Recognition | null = null;
  private wanted = false;
  private held = false;

  /**
   * @param begins somebody begins to speak
   * @param heard a sentence that is through
   * @param tell why it does not listen, or not yet, in words
   */
  constructor(
    private readonly begins: () => void,
    private readonly heard: (sentence: string) => void,
    private readonly tell: (words: string) => void,
  ) {}

  get on(): boolean {
    return this.wanted;
  }

  /** @returns why it cannot, in words; null where it listens, or not any more */
  async listen(on: boolean): Promise<string | null> {
    const why = on ? await whyNot(this.tell) : null;
    this.wanted = on && why === null;
    this.held = false;
    if (this.wanted) this.start();
    else this.stop();
    return why;
  }

  /** The page must not hear itself: nothing is heard until `goOn`. */
  hold(): void {
    this.held = true;
    this.stop();
  }

  goOn(): void {
    this.held = false;
    if (this.wanted) this.start();
  }

  private stop(): void {
    const { ear } = this;
    this.ear = null;
    ear?.abort();
  }

  private start(): void {
    if (this.ear !== null) return;
    const ear = new (recognitionClass()!)();
    this.ear = ear;
    ear.lang = LANGUAGE;
    ear.continuous = true;
    ear.processLocally = true;
    ear.addEventListener('speechstart', () => this.ear === ear && this.begins());
    ear.addEventListener('result', (event) => {
      const { results, resultIndex } = event as ResultEvent;
      for (let i = resultIndex; this.ear === ear && i < results.length; i++)
        if (results[i]!.isFinal) this.heard(results[i]![0]!.transcript);
    });
    ear.addEventListener('error', (event) => {
      const { error } = event as Event & { error: string };
      // Silence is no fault; what the page itself ended is none either.
      if (this.ear !== ear || error === 'no-speech' || error === 'aborted') return;
      this.wanted = false;
      this.stop();
      this.tell(`not heard any more: ${whyGone(error)}`);
    });
    // A browser ends by itself after a while of silence.
    ear.addEventListener('end', () => {
      if (this.ear !== ear) return;
      this.ear = null;
      if (this.wanted && !this.held) setTimeout(() => this.wanted && !this.held && this.start(), 250);
    });
    ear.start();
  }
}

function whyGone(error: string): string {
  switch (error) {
    case 'not-allowed':
    case 'service-not-allowed':
      return 'the browser does not let this page use the microphone';
    case 'audio-capture':
      return 'no microphone';
    default:
      return `the browser stopped listening (${error})`;
  }
}
