// A tone that rises and falls with the current, for somebody who cannot see the screen.
// One board at a time: two tones at once tell nothing.

/** Of 0 mA. */
const LOWEST_HZ = 110;
/** 15 semitones for a tenfold current: a tenth more is over half a semitone, which is heard. */
const OCTAVES_PER_DECADE = 1.25;
/** From there on (some 30 A) no higher. */
const HIGHEST_HZ = 4000;
/** Loud enough under a dash, and no shock to whoever holds the tablet. */
const GAIN = 0.2;
/** Glides instead of clicking from one pitch to the next. */
const GLIDE_S = 0.03;

/** The pitch of a current. The sign is not told: a charging current rises too as it grows. */
export function pitch_Hz(current_mA: number): number {
  return Math.min(HIGHEST_HZ, LOWEST_HZ * 2 ** (OCTAVES_PER_DECADE * Math.log10(1 + Math.abs(current_mA))));
}

export class Tone {
  private parts: { context: AudioContext; oscillator: OscillatorNode; gain: GainNode } | null = null;
  private of: string | null = null;

  /** Name of the recording that it follows. */
  get follows(): string | null {
    return this.of;
  }

  /** Begins in answer to a press of a button: no browser lets a page sound unasked. */
  follow(name: string | null): void {
    this.of = name;
    if (name === null) return this.take(null);
    this.parts ??= started();
    void this.parts.context.resume();
  }

  /** null: nothing is known at the moment, so it is silent. */
  take(current_mA: number | null): void {
    if (this.parts === null) return;
    const { context, oscillator, gain } = this.parts;
    const at = context.currentTime;
    gain.gain.setTargetAtTime(current_mA === null || this.of === null ? 0 : GAIN, at, GLIDE_S);
    if (current_mA !== null) oscillator.frequency.setTargetAtTime(pitch_Hz(current_mA), at, GLIDE_S);
  }

  /** Two short notes, up or down, where there is no voice to call a step out. */
  signal(up: boolean): void {
    const { context } = (this.parts ??= started());
    void context.resume();
    (up ? [660, 990] : [990, 660]).forEach((frequency_Hz, i) => {
      const note = context.createOscillator();
      const loudness = context.createGain();
      note.type = 'triangle';
      note.frequency.value = frequency_Hz;
      loudness.gain.value = GAIN;
      note.connect(loudness).connect(context.destination);
      note.start(context.currentTime + i * 0.18);
      note.stop(context.currentTime + i * 0.18 + 0.14);
    });
  }
}

function started() {
  const context = new AudioContext();
  const oscillator = context.createOscillator();
  const gain = context.createGain();
  // Richer than a sine: small loudspeakers and a noisy bay swallow low sines.
  oscillator.type = 'triangle';
  gain.gain.value = 0;
  oscillator.connect(gain).connect(context.destination);
  oscillator.start();
  return { context, oscillator, gain };
}
