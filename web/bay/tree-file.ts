// The text of a CSV file that a spreadsheet wrote, whichever of the usual encodings it
// chose (WHATWG Encoding Standard).

/** UTF-8; UTF-16 by its byte order mark; bytes that are no UTF-8 as windows-1252, in which every byte is a letter. */
export function csvText(bytes: Uint8Array): string {
  const utf16 =
    bytes[0] === 0xff && bytes[1] === 0xfe ? 'utf-16le' : bytes[0] === 0xfe && bytes[1] === 0xff ? 'utf-16be' : null;
  if (utf16 !== null) return new TextDecoder(utf16).decode(bytes);
  try {
    return new TextDecoder('utf-8', { fatal: true }).decode(bytes);
  } catch {
    return new TextDecoder('windows-1252').decode(bytes);
  }
}
