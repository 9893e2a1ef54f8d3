// CRC-32/ISO-HDLC over text, as firmware/PROTOCOL.md has it: reflected polynomial
// EDB88320h, initial value and final XOR FFFFFFFFh.

const TABLE = Int32Array.from({ length: 256 }, (_, byte) => {
  let rest = byte;
  for (let bit = 0; bit < 8; bit++) rest = (rest & 1) === 1 ? (rest >>> 1) ^ 0xedb88320 : rest >>> 1;
  return rest;
});

/**
 * Check value of the first `end` characters, each one byte of printable ASCII.
 * @returns an unsigned 32-bit number, or -1 where a character is not printable ASCII
 */
export function crc32OfText(text: string, end: number = text.length): number {
  let crc = -1;
  for (let i = 0; i < end; i++) {
    const c = text.charCodeAt(i);
    if (c < 0x20 || c > 0x7e) return -1;
    crc = (crc >>> 8) ^ TABLE[(crc ^ c) & 0xff]!;
  }
  return (crc ^ -1) >>> 0;
}

/** A check code as it stands at the end of a line. */
export const checkCode = (text: string): string => crc32OfText(text).toString(16).toUpperCase().padStart(8, '0');
