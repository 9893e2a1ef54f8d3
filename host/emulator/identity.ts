// The identity block that a board's EEPROM begins with: its own number, and the speed
// that an emulated board declares in its hello. Layout, also in firmware/BOARD.md:
//   0 'N' 'D' 1   3 id, 32 bits   7 speed, 32 bits   11 CRC-32/ISO-HDLC of bytes 0 to 10
// all little-endian.
import { crc32 } from 'node:zlib';

export const SPEED_MAX = 65535;

/**
 * The 15 bytes of the block.
 * @throws RangeError for a speed that is not a whole number from 1 to 65535 or an id beyond 32 bits.
 */
export function identityBlock(id: number, speed: number): Uint8Array {
  if (!Number.isInteger(speed) || speed < 1 || speed > SPEED_MAX) {
    throw new RangeError(`speed ${speed} is not a whole number from 1 to ${SPEED_MAX}`);
  }
  if (!Number.isInteger(id) || id < 0 || id >= 2 ** 32)
    throw new RangeError(`board number ${id} is not a whole number of 32 bits`);
  const block = Buffer.alloc(15);
  block.write('ND', 0, 'latin1');
  block[2] = 1;
  block.writeUInt32LE(id, 3);
  block.writeUInt32LE(speed, 7);
  block.writeUInt32LE(crc32(block.subarray(0, 11)), 11);
  return block;
}
