// The certificate in a board's EEPROM: written by the host as notes of three bytes, read as words of four
// (firmware/PROTOCOL.md, commands `n` and `q`, "The certificate"). Two slots written in turn, each with a
// check code, so that a cut while writing leaves the one before.
import { crc32 } from 'node:zlib';
import type { Certificate, Hello } from '../contract/capture.ts';
import type { CommandLetter } from './commands.ts';
import type { Answer, Refusal } from './lines.ts';

export const SLOT_BYTES = 54;
const NOTES_BYTES = 2 * SLOT_BYTES;
const NOTE_BYTES = 3;
const WORD_BYTES = 4;
const BY_AT = 23;
const CRC_AT = SLOT_BYTES - 4;
/** Of the name, as UTF-8. */
export const BY_BYTES_MOST: number = CRC_AT - BY_AT;
/** A note takes 10 ms to write. */
const ANSWER_WITHIN_MS = 1000;

/** Sends one command; null where nothing came back. */
export type Order = (letter: CommandLetter, within_ms: number, value: number) => Promise<Answer | Refusal | null>;

/** From firmware 0.4 on a board keeps notes. */
export function keepsNotes({ fw }: Hello): boolean {
  const [major = 0, minor = 0] = fw.split('.').map(Number);
  return major > 0 || minor >= 4;
}

/** A slot's bytes. @param generation counts up with each that is written */
export function encodeCertificate(certificate: Certificate, generation: number): Buffer {
  const slot = Buffer.alloc(SLOT_BYTES);
  slot.write('CK\u0001', 0, 'latin1');
  slot.writeUInt32LE(generation, 3);
  slot.writeUInt32LE(Math.round(certificate.checked_ms / 1000), 7);
  slot.writeUInt32LE(certificate.cal_gen, 11);
  slot.writeUInt32LE(certificate.share_ppm, 15);
  slot.writeUInt32LE(certificate.zero_uA, 19);
  slot.write(cutToBytes(certificate.by, BY_BYTES_MOST), BY_AT, 'utf8');
  slot.writeUInt32LE(crc32(slot.subarray(0, CRC_AT)), CRC_AT);
  return slot;
}

/** Null where the slot is blank, cut short or of a layout that is not known. */
export function decodeCertificate(slot: Buffer): { certificate: Certificate; generation: number } | null {
  if (slot.toString('latin1', 0, 3) !== 'CK\u0001' || slot.readUInt32LE(CRC_AT) !== crc32(slot.subarray(0, CRC_AT)))
    return null;
  return {
    generation: slot.readUInt32LE(3),
    certificate: {
      checked_ms: slot.readUInt32LE(7) * 1000,
      cal_gen: slot.readUInt32LE(11),
      share_ppm: slot.readUInt32LE(15),
      zero_uA: slot.readUInt32LE(19),
      by: slot.toString('utf8', BY_AT, CRC_AT).replace(/\0+$/, ''),
    },
  };
}

/** As much of a text as fits, in whole letters. */
function cutToBytes(text: string, most: number): string {
  let cut = '';
  for (const letter of text) {
    if (Buffer.byteLength(cut + letter) > most) break;
    cut += letter;
  }
  return cut;
}

interface Slots {
  newest: { certificate: Certificate; generation: number } | null;
  /** Where the next one goes: the slot that does not hold the newest. */
  next_at: number;
}

/** The newest certificate of the two slots; null where the board did not answer. */
async function readSlots(order: Order): Promise<Slots | null> {
  let slots: Slots = { newest: null, next_at: 0 };
  for (const at of [0, SLOT_BYTES]) {
    const slot = await readSlot(order, at);
    if (slot === null) return null;
    const found = decodeCertificate(slot);
    if (found !== null && found.generation > (slots.newest?.generation ?? 0))
      slots = { newest: found, next_at: SLOT_BYTES - at };
  }
  return slots;
}

/** One slot; what does not begin like a certificate is not read further. */
async function readSlot(order: Order, at: number): Promise<Buffer | null> {
  const slot = Buffer.alloc(SLOT_BYTES);
  for (let from = 0; from < SLOT_BYTES; from += WORD_BYTES) {
    // The last word of an area that is no whole number of words begins sooner.
    const place = Math.min(at + from, NOTES_BYTES - WORD_BYTES);
    const back = await order('q', ANSWER_WITHIN_MS, place);
    if (back?.kind !== 'answer' || back.value === null) return null;
    const word = Buffer.alloc(WORD_BYTES);
    word.writeUInt32LE(back.value);
    word.copy(slot, place - at);
    if (from === 0 && slot.toString('latin1', 0, 2) !== 'CK') return slot;
  }
  return slot;
}

/** What the board has; null where it has none, or keeps no notes. */
export async function readCertificate(order: Order): Promise<Certificate | null> {
  return (await readSlots(order))?.newest?.certificate ?? null;
}

/** Writes it and reads it back; false where the board did not keep it. */
export async function writeCertificate(order: Order, certificate: Certificate): Promise<boolean> {
  const slots = await readSlots(order);
  if (slots === null) return false;
  const slot = encodeCertificate(certificate, (slots.newest?.generation ?? 0) + 1);
  for (let at = 0; at < SLOT_BYTES; at += NOTE_BYTES) {
    const place = (slots.next_at + at) / NOTE_BYTES;
    const back = await order('n', ANSWER_WITHIN_MS, place * 2 ** 24 + slot.readUIntLE(at, NOTE_BYTES));
    if (back?.kind !== 'answer') return false;
  }
  const kept = await readSlot(order, slots.next_at);
  return kept !== null && kept.equals(slot);
}
