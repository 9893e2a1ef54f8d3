// What a board tells of itself, in words for the user: why it began anew, and its
// faults (firmware/PROTOCOL.md, `cause` and "S status").

import type { StatusReading } from '../capture/types.ts';
import type { Greeting } from '../link/connection.ts';

const CAUSES: Record<string, string> = {
  power: 'it had lost its power',
  pin: 'by its reset button or wire',
  brownout: 'its supply had dipped too low (brown-out): check cable and USB port',
  watchdog: 'its firmware had hung (watchdog): please report that',
};

/** @param cause the hello's word */
export function causeInWords(cause: string): string {
  return CAUSES[cause] ?? 'for a reason it cannot tell';
}

/** The same for a board that greets us: one that boots whenever its port is opened is told from others. */
export function greetingCause({ hello, bootedByUs }: Greeting): string {
  if (bootedByUs && (hello.cause === 'pin' || hello.cause === 'unknown')) return 'opening its port resets it: BOARD.md tells how to prevent that';
  return causeInWords(hello.cause);
}

const FAULTS: Record<string, string> = {
  'sensor-missing': 'its sense chip does not answer: check the wires to it',
  'sensor-id': 'what answers in place of its sense chip is no chip it knows',
  'bus-nack': 'its sense chip broke off: check the wires to it',
  'bus-stuck': 'the wires to its sense chip are held low: check them for a short',
  'no-conversion': 'its sense chip measures no more: check the wires to it',
};

/** Boots that nobody asked for: over when they are told, and in the words of the hello already. */
const BOOTS: readonly string[] = ['brownout', 'watchdog'];

/** Tells each fault of the board once, and its end. */
export class BoardFaults {
  private code: string | null = null;

  /** A sentence for the user, or null where it was told already. */
  take({ code }: StatusReading): string | null {
    if (BOOTS.includes(code)) return null;
    const now = code === 'sensor-ok' ? null : code;
    if (now === this.code) return null;
    this.code = now;
    return now === null ? 'the board measures again' : `nothing is measured: the board says that ${FAULTS[code] ?? `it has a fault (${code})`}`;
  }

  /** Windows come: a fault whose end was lost is over. @returns as `take` */
  measured(): string | null {
    if (this.code === null) return null;
    this.code = null;
    return 'the board measures again';
  }

  /** Whether it measures nothing now. */
  get faulty(): boolean {
    return this.code !== null;
  }
}
