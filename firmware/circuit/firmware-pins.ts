// Whether the circuit fits the firmware: pins, crystal, bus address and serial port are read from
// the firmware's own source, never repeated here.
import { OPEN, connections } from './shape.ts';
import type { Circuit, Part } from './shape.ts';

/** The files' texts, as they stand in firmware/. */
export interface FirmwareSource {
  /** boards/atmega328p/chip.h */
  chip: string;
  /** boards/atmega/board.c */
  board: string;
  /** core/sense.h */
  sense: string;
  makefile: string;
}

export interface FirmwareNeeds {
  /** What the firmware uses a port bit for -> its name. */
  bits: Record<'ready' | 'light' | 'sda' | 'scl' | 'receive' | 'transmit', string>;
  clock_Hz: number;
  address: number;
}

/** Port bits that the data sheet ties to a function that the source names: INT0, USART0. */
const OF_FUNCTION = { INT0: 'PD2', RXD: 'PD0', TXD: 'PD1' };

function found(text: string, pattern: RegExp): string {
  const match = pattern.exec(text);
  if (match === null) throw new Error(`the firmware no longer has ${pattern}`);
  return match[1]!;
}

/** @throws where the source no longer says it in this way */
export function firmwareNeeds(source: FirmwareSource): FirmwareNeeds {
  const ready = found(source.chip, /#define READY_BIT (PD\d)/);
  found(source.board, /EIMSK = 1 << (INT0)/);
  if (ready !== OF_FUNCTION.INT0) throw new Error(`the pull-up is on ${ready}, INT0 on ${OF_FUNCTION.INT0}`);
  found(source.board, /UCSR0B = \(1 << (RXEN0)\) \| \(1 << TXEN0\)/);
  return {
    bits: {
      ready,
      light: found(source.chip, /#define LIGHT_BIT (PB\d)/),
      sda: found(source.chip, /#define SDA_BIT (PC\d)/),
      scl: found(source.chip, /#define SCL_BIT (PC\d)/),
      receive: OF_FUNCTION.RXD,
      transmit: OF_FUNCTION.TXD,
    },
    clock_Hz: Number(found(source.makefile, /-DF_CPU=(\d+)UL/)),
    address: Number(found(source.sense, /#define SENSE_ADDRESS (0x[0-9A-Fa-f]+)/)),
  };
}

/** A1, A0 -> address of INA228 and INA226: 40h, and one of four nets adds 0 to 3 (SLYS021A, table 7-2). */
function addressOf(circuit: Circuit, chip: Part): number {
  const sda = netOf(chip, 'SDA');
  const scl = netOf(chip, 'SCL');
  const code = (name: string) => [circuit.ground, netOf(chip, 'VS'), sda, scl].indexOf(netOf(chip, name));
  return 0x40 + 4 * code('A1') + code('A0');
}

const netOf = (part: Part, name: string): string => {
  const pin = part.pins.find((one) => one.name.split('/').includes(name));
  return pin === undefined ? '' : (part.on[pin.number] ?? '');
};

const ends = (circuit: Circuit, net: string, chip: Part) =>
  connections(circuit, net).filter(({ part }) => part === chip);

/** What does not fit, one sentence each. A module takes a chip's place (`sense`, `processor`, `serial`). */
export function checkFirmware(
  circuit: Circuit,
  needs: FirmwareNeeds,
  chips: { sense: string; processor: string; serial: string },
): string[] {
  const part = (ref: string) => circuit.parts.find((one) => one.ref === ref)!;
  const sense = part(chips.sense);
  const processor = part(chips.processor);
  const serial = part(chips.serial);
  const bad: string[] = [];
  const joined = (bit: string, other: Part, pin: string) => {
    const net = netOf(processor, bit);
    if (net === '' || net === OPEN || net !== netOf(other, pin))
      bad.push(`${processor.ref}.${bit} is not on the net of ${other.ref}.${pin}`);
  };
  joined(needs.bits.ready, sense, 'ALERT');
  joined(needs.bits.sda, sense, 'SDA');
  joined(needs.bits.scl, sense, 'SCL');
  if (serial !== processor) {
    joined(needs.bits.receive, serial, 'TXD');
    joined(needs.bits.transmit, serial, 'RXD');
    if (netOf(serial, 'DTR') !== OPEN) bad.push(`${serial.ref}.DTR is connected: opening the port may reset the board`);
    const light = connections(circuit, netOf(processor, needs.bits.light));
    if (!light.some((end) => end.part.kind === 'resistor'))
      bad.push(`no light on ${processor.ref}.${needs.bits.light}`);
    const crystal = circuit.parts.find((one) => one.kind === 'crystal');
    if (crystal?.value !== needs.clock_Hz) bad.push(`the crystal is not that of the firmware, ${needs.clock_Hz} Hz`);
  }
  const address = addressOf(circuit, sense);
  if (sense.kind === 'chip' && address !== needs.address)
    bad.push(`${sense.ref} answers at ${address.toString(16)}h, the firmware asks ${needs.address.toString(16)}h`);
  for (const name of ['SDA', 'SCL', 'ALERT']) {
    const pull = connections(circuit, netOf(sense, name)).some(
      (end) => end.part.kind === 'resistor' && Object.values(end.part.on).includes('5V'),
    );
    if (!pull) bad.push(`${name} has no pull-up`);
  }
  if (ends(circuit, netOf(sense, 'IN+'), sense).length !== 1)
    bad.push(`${sense.ref}: IN+ is joined to another pin of it`);
  return bad;
}
