// Ctrl-C and its kin: a command that runs until it is stopped ends cleanly at the
// first signal, and at once at the second.

const SIGNALS = ['SIGINT', 'SIGTERM', 'SIGHUP'] as const;

/** Aborts at the first signal of this process. */
export function stopSignal(): AbortSignal {
  const controller = new AbortController();
  for (const signal of SIGNALS) {
    process.on(signal, () => {
      if (controller.signal.aborted) process.exit(130);
      controller.abort();
    });
  }
  return controller.signal;
}

/** Resolves when the signal aborts. */
export function stopped(signal: AbortSignal): Promise<void> {
  return new Promise((resolve) => {
    if (signal.aborted) resolve();
    else signal.addEventListener('abort', () => resolve(), { once: true });
  });
}
