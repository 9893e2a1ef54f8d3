// Time as it is handed to whoever waits or measures: this computer's clock and timers in the
// program, a clock turned by hand in tests.

export interface Time {
  /** Microseconds since some origin; never steps, and may stand still while the computer sleeps. */
  now_us(): number;
  /** Calls `work` once, in `ms` milliseconds. Returns what calls it off. */
  after(ms: number, work: () => void): () => void;
  /** Calls `work` every `ms` milliseconds until what it returns is called. */
  every(ms: number, work: () => void): () => void;
}

/** Time, and the two clocks that tell a night's date and a computer's sleep. */
export interface HostClock extends Time {
  /** The wall's clock, milliseconds since 1970; set now and then. */
  wall_ms(): number;
  /** Seconds since the computer was started, sleep included. */
  up_s(): number;
}

/** Resolves in `ms` milliseconds, or as soon as `signal` is aborted. */
export function pause(time: Time, ms: number, signal?: AbortSignal): Promise<void> {
  return new Promise((resolve) => {
    const done = () => {
      cancel();
      signal?.removeEventListener('abort', done);
      resolve();
    };
    const cancel = time.after(ms, done);
    signal?.addEventListener('abort', done);
    if (signal?.aborted === true) done();
  });
}
