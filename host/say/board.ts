// What a board tells of itself, in words: why it began anew, and its faults
// (firmware/PROTOCOL.md, `cause` and "S status"). Said while it records, and in the morning.

/** A board's number as it is written everywhere: eight hexadecimal digits, as on its label. */
export const boardNumber = (id: number): string => id.toString(16).toUpperCase().padStart(8, '0');

const CAUSES: Record<string, string> = {
  power: 'it had lost its power',
  pin: 'by its reset button or wire',
  brownout: 'its supply had dipped too low (brown-out): check cable and USB port',
  watchdog: 'its firmware had hung (watchdog): please report that',
};

/** @param cause the hello's word */
export const causeInWords = (cause: string): string => CAUSES[cause] ?? 'for a reason it cannot tell';

const FAULTS: Record<string, string> = {
  'sensor-missing': 'its sense chip does not answer: check the wires to it',
  'sensor-id': 'what answers in place of its sense chip is no chip it knows',
  'bus-nack': 'its sense chip broke off: check the wires to it',
  'bus-stuck': 'the wires to its sense chip are held low: check them for a short',
  'no-conversion': 'its sense chip measures no more: check the wires to it',
};

/** @param code the status line's word */
export const faultInWords = (code: string): string => FAULTS[code] ?? `it has a fault (${code})`;

/** The end of a fault. */
export const FAULT_OVER = 'sensor-ok';

/** Boots that nobody asked for: over when they are told. */
export const BOOTS: readonly string[] = ['brownout', 'watchdog'];
