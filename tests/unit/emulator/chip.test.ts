// The emulated ATmega328P against its data sheet (DS40002061), with programs of a
// few instructions: each trap of the instruction core that this folder works round
// has its check here.
import { describe, expect, test } from 'vitest';
import { readIntelHex } from '../../../host/emulator/chip/intel-hex.ts';
import type { TwoWireSlave } from '../../../host/emulator/chip/twi.ts';
import { startProgram, toIntelHex } from './program.ts';

/** Port at 500 000 baud (UBRR 1), transmitter on. */
const SERIAL_ON = `
  ldi r16, 1
  sts 0xc4, r16
  ldi r16, 0x18
  sts 0xc1, r16
`;

/** Vector table: a jump at a vector's word address, the rest of the table left empty. */
const vectors = (entries: Record<number, string>) => {
  const lines = ['jmp main'];
  for (let at = 2; at <= 0x32; at += 2) lines.push(entries[at] === undefined ? 'nop\nnop' : `jmp ${entries[at]}`);
  return lines.join('\n') + '\n';
};

describe('serial port', () => {
  test('a byte at 500 000 baud takes ten bits of 32 cycles, back to back through the buffer', () => {
    const { chip, sent } = startProgram(`${SERIAL_ON}
      ldi r16, 0x41
      sts 0xc6, r16
      sts 0xc6, r16
      end: rjmp end`);
    chip.run(5000);
    expect(sent.map(({ byte }) => byte)).toEqual([0x41, 0x41]);
    expect(sent[1]!.cycle - sent[0]!.cycle).toBeGreaterThan(317);
    expect(sent[1]!.cycle - sent[0]!.cycle).toBeLessThan(323);
  });

  test('a third byte written into the full buffer is lost, as UDRE says', () => {
    const { chip, sent } = startProgram(`${SERIAL_ON}
      ldi r16, 0x41
      sts 0xc6, r16
      ldi r16, 0x42
      sts 0xc6, r16
      lds r20, 0xc0
      ldi r16, 0x43
      sts 0xc6, r16
      wait: lds r17, 0xc0
      sbrs r17, 5
      rjmp wait
      sts 0xc6, r20
      end: rjmp end`);
    chip.run(5000);
    expect(sent.map(({ byte }) => byte)).toEqual([0x41, 0x42, 0x00]); // UCSR0A had UDRE 0
  });

  test('UDRE interrupts as long as the buffer is empty, not once', () => {
    const { chip, sent } = startProgram(`${vectors({ 0x26: 'empty' })}
      main: ${SERIAL_ON}
      ldi r18, 5
      ldi r16, 0x38
      sts 0xc1, r16
      sei
      end: rjmp end
      empty: sts 0xc6, r18
      dec r18
      brne more
      ldi r16, 0x18
      sts 0xc1, r16
      more: reti`);
    chip.run(10_000);
    expect(sent.map(({ byte }) => byte)).toEqual([5, 4, 3, 2, 1]);
  });

  test('a received byte survives a write to UCSR0B, a third unread one sets DOR', () => {
    const { chip, sent } = startProgram(`${SERIAL_ON}
      ldi r18, 200
      delay: ldi r19, 10
      inner: dec r19
      brne inner
      dec r18
      brne delay
      ldi r16, 0x18
      sts 0xc1, r16
      lds r20, 0xc0
      lds r21, 0xc6
      lds r22, 0xc6
      sts 0xc6, r21
      sts 0xc6, r22
      wait: lds r17, 0xc0
      sbrs r17, 5
      rjmp wait
      andi r20, 0x88
      sts 0xc6, r20
      end: rjmp end`);
    chip.run(200);
    chip.usart.send([0x61, 0x62, 0x63]);
    chip.run(20_000);
    expect(sent.map(({ byte }) => byte)).toEqual([0x61, 0x62, 0x88]);
  });
});

describe('interrupts and sleep', () => {
  test('one instruction runs after SEI before a pending interrupt, so SEI and SLEEP lose none', () => {
    const { chip, sent } = startProgram(`${vectors({ 0x1a: 'overflow' })}
      main: ${SERIAL_ON}
      ldi r16, 1
      sts 0x6f, r16
      ldi r16, 0xff
      sts 0x85, r16
      sts 0x84, r16
      ldi r16, 1
      sts 0x81, r16
      nop
      nop
      clr r20
      sei
      inc r20
      inc r20
      end: rjmp end
      overflow: sts 0xc6, r20
      reti`);
    chip.run(3000);
    expect(sent.map(({ byte }) => byte)).toEqual([1]);
  });

  test('asleep, time is skipped to the next event and counted', () => {
    // Timer 1 in CTC, top 15999, no prescaler: a millisecond. The handler sends, the loop sleeps.
    const { chip, sent } = startProgram(`${vectors({ 0x16: 'match' })}
      main: ${SERIAL_ON}
      ldi r16, 0x3e
      sts 0x89, r16
      ldi r16, 0x7f
      sts 0x88, r16
      ldi r16, 2
      sts 0x6f, r16
      ldi r16, 9
      sts 0x81, r16
      ldi r16, 1
      out 0x33, r16
      sei
      end: sleep
      rjmp end
      match: sts 0xc6, r16
      reti`);
    chip.run(16_000 * 1000);
    expect(sent.length).toBe(999);
    for (let i = 1; i < sent.length; i++) expect(sent[i]!.cycle - sent[i - 1]!.cycle).toBe(16_000);
    const awake = 1 - chip.asleepCycles / chip.cycles;
    // Response 8 with wake-up, JMP 3, STS 2, RETI 4 (5 on the chip's table counts the same), RJMP 2, SLEEP 1: about 20
    // of 16 000.
    expect(awake).toBeGreaterThan(10 / 16_000);
    expect(awake).toBeLessThan(40 / 16_000);
  });

  test('a sleep mode that stops the clocks is refused, not run wrongly', () => {
    const { chip } = startProgram('ldi r16, 5\n out 0x33, r16\n sleep\n end: rjmp end');
    expect(() => chip.run(100)).toThrow('sleep mode 2');
  });
});

describe('timer 1', () => {
  test('counts with its prescaler, read through the high-byte latch, wrapping at 65536', () => {
    // Free running at clock / 8; the count is sent after 65536 x 8 + some cycles.
    const { chip, sent } = startProgram(`${SERIAL_ON}
      ldi r16, 2
      sts 0x81, r16
      wait: in r17, 0x16
      sbrs r17, 0
      rjmp wait
      lds r20, 0x84
      lds r21, 0x85
      sts 0xc6, r20
      sts 0xc6, r21
      end: rjmp end`);
    chip.run(8 * 65_536 + 2000);
    expect(sent.length).toBe(2);
    // The overflow is seen within a turn of the loop: a count of 0 or 1.
    expect(sent[0]!.byte).toBeLessThanOrEqual(1);
    expect(sent[1]!.byte).toBe(0);
  });

  test('a waveform mode that is not modelled is refused', () => {
    const { chip } = startProgram('ldi r16, 1\n sts 0x80, r16\n sts 0x81, r16\n end: rjmp end');
    expect(() => chip.run(100)).toThrow('waveform mode 1');
  });
});

describe('two-wire interface', () => {
  /** Answers at 40h; remembers what happened and when. */
  class Recorder implements TwoWireSlave {
    readonly log: string[] = [];
    address(address: number, reading: boolean): boolean {
      this.log.push(`${address.toString(16)}${reading ? 'r' : 'w'}`);
      return address === 0x40;
    }
    write(byte: number): boolean {
      this.log.push(byte.toString(16));
      return true;
    }
    read(): number {
      return 0x5a;
    }
    stop(): void {
      this.log.push('stop');
    }
  }

  /** TWBR 12; writes TWCR, waits for TWINT, sends the status code. */
  const transfer = (address: number) => `${SERIAL_ON}
      clr r16
      sts 0xb9, r16
      ldi r16, 12
      sts 0xb8, r16
      ldi r16, 0xa4
      rcall go
      ldi r16, ${address}
      sts 0xbb, r16
      ldi r16, 0x84
      rcall go
      ldi r16, 0x5c
      sts 0xbb, r16
      ldi r16, 0x84
      rcall go
      ldi r16, 0x94
      sts 0xbc, r16
      end: rjmp end
      go: sts 0xbc, r16
      wait: lds r17, 0xbc
      sbrs r17, 7
      rjmp wait
      lds r18, 0xb9
      sts 0xc6, r18
      ret`;

  test('status codes 08h, 18h, 28h (table 21-3) and bus time of 9 bits at 400 kHz, 360 cycles', () => {
    const slave = new Recorder();
    const { chip, sent } = startProgram(transfer(0x80), slave);
    chip.run(5000);
    expect(sent.map(({ byte }) => byte)).toEqual([0x08, 0x18, 0x28]);
    expect(slave.log).toEqual(['40w', '5c', 'stop']);
    // 9 bits of 40 cycles and the loop around them; each status byte takes 320 cycles to send.
    const byteTime = sent[2]!.cycle - sent[1]!.cycle;
    expect(byteTime).toBeGreaterThan(360);
    expect(byteTime).toBeLessThan(360 + 30);
  });

  test('nobody at the address: 20h; a byte after it is not sent', () => {
    const slave = new Recorder();
    const { chip, sent } = startProgram(transfer(0x82), slave);
    chip.run(5000);
    expect(sent.map(({ byte }) => byte)).toEqual([0x08, 0x20]);
    expect(slave.log).toEqual(['41w']);
  });

  test('while the bus is held low a START does not end; let go, it does', () => {
    const slave = new Recorder();
    const { chip, sent } = startProgram(transfer(0x80), slave);
    chip.twi.setHeld(true);
    chip.run(100_000);
    expect(sent).toEqual([]);
    chip.twi.setHeld(false);
    chip.run(110_000);
    expect(sent.map(({ byte }) => byte)).toEqual([0x08, 0x18, 0x28]);
  });
});

describe('resets', () => {
  /** Sends MCUSR, clears it, stops the watchdog or starts it at 16 ms, and never feeds it. */
  const boot = (then: string) => `${SERIAL_ON}
      in r20, 0x34
      sts 0xc6, r20
      clr r16
      out 0x34, r16
      ldi r16, 0x18
      ldi r17, ${then === 'on' ? 0x08 : 0x00}
      sts 0x60, r16
      sts 0x60, r17
      end: rjmp end`;

  test('the watchdog bites after 16 ms and leaves WDRF (08h)', () => {
    const { chip, sent } = startProgram(boot('on'));
    chip.run(16_000 * 50);
    expect(sent.map(({ byte }) => byte)).toEqual([0x01, 0x08, 0x08, 0x08]);
    expect(chip.bites).toBe(3);
    expect(sent[1]!.cycle - sent[0]!.cycle).toBeGreaterThan(256_000);
    expect(sent[1]!.cycle - sent[0]!.cycle).toBeLessThan(256_100);
  });

  test('a hung CPU is bitten too', () => {
    const { chip } = startProgram(boot('on'));
    chip.run(1000);
    chip.hang();
    chip.run(16_000 * 17);
    expect(chip.bites).toBe(1);
  });

  test('stopped in its timed sequence it does not bite; WDE alone cannot be cleared', () => {
    const stopped = startProgram(boot('off'));
    stopped.chip.run(16_000 * 50);
    expect(stopped.chip.bites).toBe(0);
    const plain = startProgram(`ldi r16, 0x08
      sts 0x60, r16
      clr r16
      sts 0x60, r16
      end: rjmp end`);
    plain.chip.run(16_000 * 20);
    expect(plain.chip.bites).toBe(1);
  });

  test('causes (section 10.9.1): pin 02h, brown-out 04h; they add up until cleared, power-on clears the others', () => {
    const { chip, sent } = startProgram(`${SERIAL_ON}
      in r20, 0x34
      sts 0xc6, r20
      end: rjmp end`);
    for (const cause of ['pin', 'brownout', 'power'] as const) {
      chip.run(chip.cycles + 1000);
      chip.reset(cause);
    }
    chip.run(chip.cycles + 1000);
    expect(sent.map(({ byte }) => byte)).toEqual([0x01, 0x03, 0x07, 0x01]);
  });

  test('a byte written to the EEPROM outlives a reset, even one during the write', () => {
    const eeprom = new Uint8Array(1024).fill(0xff);
    const { chip } = startProgram(
      `ldi r16, 7
      out 0x21, r16
      ldi r16, 0x5a
      out 0x20, r16
      sbi 0x1f, 2
      sbi 0x1f, 1
      end: rjmp end`,
      undefined,
      eeprom,
    );
    chip.run(1000);
    chip.reset('pin');
    expect(eeprom[7]).toBe(0x5a);
  });
});

describe('image', () => {
  test('what was written is read back, the rest is FFFFh', () => {
    const words = readIntelHex(toIntelHex(Uint8Array.from([0x0c, 0x94, 0x34, 0x12])), 16);
    expect([...words]).toEqual([0x940c, 0x1234, ...Array<number>(6).fill(0xffff)]);
  });

  // The first record is the specification's own kind; its sum is worked out by hand: 02+00+00+00+0C+94 = A2h, 100h -
  // A2h = 5Eh.
  test.each([
    [':020000000C945F\n:00000001FF', 'line 1: check sum'],
    [':020000000C945E\n', 'end record is missing'],
    ['firmware', 'line 1: not an Intel HEX record'],
    [':020020000C943E\n:00000001FF', 'beyond the flash'],
    [':030000000C945D\n:00000001FF', 'says 3 bytes and has 2'],
  ])('%j is refused: %s', (text, reason) => {
    expect(() => readIntelHex(text, 16)).toThrow(reason);
  });

  test('a good one is not', () => {
    expect(readIntelHex(':020000000C945E\n:00000001FF', 16)[0]).toBe(0x940c);
  });
});
