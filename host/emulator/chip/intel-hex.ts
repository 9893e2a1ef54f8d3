// Reads an Intel HEX image (Intel, "Hexadecimal Object File Format Specification",
// 1988): data, end and the two kinds of address records, with their check sums.

/**
 * The image as program words for a flash of `size` bytes, unwritten flash FFFFh.
 * @throws Error naming the line that is wrong.
 */
export function readIntelHex(text: string, size: number): Uint16Array {
  const flash = new Uint8Array(size).fill(0xff);
  let base = 0;
  let ended = false;
  text.split(/\r?\n/).forEach((line, index) => {
    if (line === '' || ended) return;
    const fail = (reason: string) => new Error(`firmware image, line ${index + 1}: ${reason}`);
    if (!/^:([0-9A-Fa-f]{2}){5,}$/.test(line)) throw fail('not an Intel HEX record');
    const bytes = Uint8Array.from(line.slice(1).match(/../g)!, (pair) => parseInt(pair, 16));
    if (bytes.reduce((sum, byte) => (sum + byte) & 0xff, 0) !== 0) throw fail('check sum is wrong');
    const data = bytes.subarray(4, bytes.length - 1);
    if (data.length !== bytes[0]) throw fail(`says ${bytes[0]} bytes and has ${data.length}`);
    const address = base + bytes[1]! * 256 + bytes[2]!;
    const type = bytes[3]!;
    if (type === 0) {
      if (address + data.length > size) throw fail(`address ${address} lies beyond the flash of ${size} bytes`);
      flash.set(data, address);
    } else if (type === 1) ended = true;
    else if (type === 2) base = (data[0]! * 256 + data[1]!) * 16;
    else if (type === 4) base = (data[0]! * 256 + data[1]!) * 65536;
    else if (type !== 3 && type !== 5) throw fail(`record type ${type} is unknown`);
  });
  if (!ended) throw new Error('firmware image: its end record is missing; the file is not whole');
  return new Uint16Array(flash.buffer);
}
