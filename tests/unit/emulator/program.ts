// Turns a few lines of assembly into an image and runs it on the emulated chip, to
// check the chip without the firmware. Results come out on the serial port or on the bus.
import { assemble } from 'avr8js/dist/cjs/utils/assembler.js';
import { Atmega328p, EEPROM_BYTES } from '../../../host/emulator/chip/atmega328p.ts';
import type { TwoWireSlave } from '../../../host/emulator/chip/twi.ts';

/** One record of up to 16 bytes. */
function record(address: number, type: number, data: number[]): string {
  const bytes = [data.length, address >> 8, address & 0xff, type, ...data];
  const sum = bytes.reduce((total, byte) => total + byte, 0);
  return ':' + [...bytes, -sum & 0xff].map((byte) => byte.toString(16).padStart(2, '0').toUpperCase()).join('');
}

export function toIntelHex(bytes: Uint8Array): string {
  const records: string[] = [];
  for (let i = 0; i < bytes.length; i += 16) records.push(record(i, 0, [...bytes.subarray(i, i + 16)]));
  return [...records, record(0, 1, [])].join('\n') + '\n';
}

export interface ProgramRun {
  chip: Atmega328p;
  /** Bytes sent, with the cycle at which the last bit of each had passed. */
  sent: { byte: number; cycle: number }[];
}

/** A bus with nothing on it. */
const NOBODY: TwoWireSlave = { address: () => false, write: () => false, read: () => 0xff, stop: () => {} };

export function startProgram(
  source: string,
  slave = NOBODY,
  eeprom = new Uint8Array(EEPROM_BYTES).fill(0xff),
): ProgramRun {
  const { bytes, errors } = assemble(source);
  if (errors.length > 0) throw new Error(errors.join('; '));
  const sent: ProgramRun['sent'] = [];
  const chip: Atmega328p = new Atmega328p({
    image: toIntelHex(bytes),
    eeprom,
    slave: () => slave,
    onByte: (byte) => sent.push({ byte, cycle: chip.cycles }),
    onClockEdge: () => {},
  });
  return { chip, sent };
}
