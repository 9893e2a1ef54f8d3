// What a board tells of itself while it is recorded: why it began anew, and each of its faults once.

import type { StatusReading } from '../contract/capture.ts';
import type { Greeting } from '../link/connection.ts';
import { BOOTS, causeInWords, FAULT_OVER, faultInWords } from '../say/board.ts';

/** Why a board that greets us began anew: one that boots whenever its port is opened is told from others. */
export function greetingCause({ hello, bootedByUs }: Greeting): string {
  if (bootedByUs && (hello.cause === 'pin' || hello.cause === 'unknown'))
    return 'opening its port resets it: BOARD.md tells how to prevent that';
  return causeInWords(hello.cause);
}

/** Tells each fault of the board once, and its end. */
export class BoardFaults {
  private code: string | null = null;

  /** A sentence for the user, or null where it was told already. */
  take({ code }: StatusReading): string | null {
    if (BOOTS.includes(code)) return null;
    const now = code === FAULT_OVER ? null : code;
    if (now === this.code) return null;
    this.code = now;
    return now === null ? 'the board measures again' : `nothing is measured: the board says that ${faultInWords(code)}`;
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
