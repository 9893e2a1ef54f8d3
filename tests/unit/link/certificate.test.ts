// The certificate in a board's notes: bytes as PROTOCOL.md lays them out, and nothing lost to a cut.
import { crc32 } from 'node:zlib';
import { describe, expect, test } from 'vitest';
import type { Certificate } from '../../../host/contract/capture.ts';
import {
  BY_BYTES_MOST,
  decodeCertificate,
  encodeCertificate,
  keepsNotes,
  readCertificate,
  SLOT_BYTES,
  writeCertificate,
} from '../../../host/link/certificate.ts';
import type { Order } from '../../../host/link/certificate.ts';
import { checkedWords } from '../../../host/say/certificate.ts';

const FIRST: Certificate = {
  checked_ms: Date.UTC(2026, 10, 30, 9, 15, 7),
  by: 'A. Wörner',
  share_ppm: 8200,
  zero_uA: 110,
  cal_gen: 3,
};
const SECOND: Certificate = { ...FIRST, checked_ms: FIRST.checked_ms + 86_400_000, by: 'B', share_ppm: 4100 };

/** A board's notes behind its two commands. @param notes_left how many it still writes before its power goes */
function boardWith(notes: Buffer, notes_left = Infinity): { order: Order; asked: string[] } {
  const asked: string[] = [];
  let left = notes_left;
  const order: Order = (letter, _within, value) => {
    asked.push(letter);
    if (letter === 'q') return Promise.resolve({ kind: 'answer', tag: 1, value: notes.readUInt32LE(value) });
    if (left-- <= 0) return Promise.resolve(null);
    notes.writeUIntLE(value % 2 ** 24, 3 * Math.floor(value / 2 ** 24), 3);
    return Promise.resolve({ kind: 'answer', tag: 1, value: 7 });
  };
  return { order, asked };
}
const blank = () => Buffer.alloc(2 * SLOT_BYTES, 0xff);

describe('a slot', () => {
  test('its bytes, one by one', () => {
    const slot = encodeCertificate(FIRST, 0x01020304);
    expect(slot.toString('latin1', 0, 3)).toBe('CK\u0001');
    expect([...slot.subarray(3, 7)]).toEqual([4, 3, 2, 1]);
    expect(slot.readUInt32LE(7)).toBe(FIRST.checked_ms / 1000);
    expect([slot.readUInt32LE(11), slot.readUInt32LE(15), slot.readUInt32LE(19)]).toEqual([3, 8200, 110]);
    expect(slot.toString('utf8', 23, 33)).toBe('A. Wörner');
    expect(slot.readUInt32LE(50)).toBe(crc32(slot.subarray(0, 50)));
    expect(decodeCertificate(slot)).toEqual({ certificate: FIRST, generation: 0x01020304 });
  });

  test('any bit that is wrong makes it absent', () => {
    for (let bit = 0; bit < SLOT_BYTES * 8; bit++) {
      const slot = encodeCertificate(FIRST, 1);
      slot[bit >> 3]! ^= 1 << (bit & 7);
      expect(decodeCertificate(slot), `bit ${bit}`).toBeNull();
    }
    expect(decodeCertificate(Buffer.alloc(SLOT_BYTES, 0xff))).toBeNull();
    expect(decodeCertificate(Buffer.alloc(SLOT_BYTES))).toBeNull();
  });

  test('a name that is too long is cut between letters', () => {
    const long = decodeCertificate(encodeCertificate({ ...FIRST, by: `${'ö'.repeat(20)}` }, 1))!;
    expect(long.certificate.by).toBe('ö'.repeat(Math.floor(BY_BYTES_MOST / 2)));
  });
});

describe('in a board', () => {
  test('a blank one is asked twice, and has none', async () => {
    const { order, asked } = boardWith(blank());
    expect(await readCertificate(order)).toBeNull();
    expect(asked).toEqual(['q', 'q']);
  });

  test('written, read, written again into the other slot', async () => {
    const notes = blank();
    const { order } = boardWith(notes);
    expect(await writeCertificate(order, FIRST)).toBe(true);
    expect(await readCertificate(order)).toEqual(FIRST);
    expect(await writeCertificate(order, SECOND)).toBe(true);
    expect(await readCertificate(order)).toEqual(SECOND);
    expect(decodeCertificate(notes.subarray(0, SLOT_BYTES))!.certificate).toEqual(FIRST);
    expect(await writeCertificate(order, FIRST)).toBe(true);
    expect(decodeCertificate(notes.subarray(0, SLOT_BYTES))!.generation).toBe(3);
  });

  test('cut after any note, the one before is still there', async () => {
    for (let notes_left = 0; notes_left < SLOT_BYTES / 3; notes_left++) {
      const notes = blank();
      await writeCertificate(boardWith(notes).order, FIRST);
      await writeCertificate(boardWith(notes).order, SECOND);
      expect(await writeCertificate(boardWith(notes, notes_left).order, FIRST)).toBe(false);
      expect(await readCertificate(boardWith(notes).order), `${notes_left} notes`).toEqual(SECOND);
    }
  });

  test('firmware that knows no notes, and a board that does not answer', async () => {
    const unknown: Order = () => Promise.resolve({ kind: 'refusal', tag: 1, reason: 'unknown' });
    const silent: Order = () => Promise.resolve(null);
    for (const order of [unknown, silent]) {
      expect(await readCertificate(order)).toBeNull();
      expect(await writeCertificate(order, FIRST)).toBe(false);
    }
    const firmware = (fw: string) => keepsNotes({ fw } as Parameters<typeof keepsNotes>[0]);
    expect(['0.1.0', '0.3.9', '0.4.0', '1.0.0', '0.10.0'].map(firmware)).toEqual([false, false, true, true, true]);
  });
});

test('in words', () => {
  expect(checkedWords(FIRST, 3)).toBe(
    'checked on 2026-11-30, by A. Wörner, within 0.8 % of the meter and 0.11 mA at rest',
  );
  expect(checkedWords({ ...FIRST, by: '' }, 4)).toBe(
    'checked on 2026-11-30, within 0.8 % of the meter and 0.11 mA at rest, calibrated anew since',
  );
});
