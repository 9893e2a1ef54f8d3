// The text of a CSV that somebody saved in a spreadsheet, whichever of the usual
// encodings it chose: UTF-8, UTF-16 with its byte order mark, or the older one-byte
// alphabet of western Europe (windows-1252, WHATWG Encoding Standard).

/** Bytes that are no UTF-8 are taken for windows-1252, in which every byte is a letter. */
export function csvText(bytes: Uint8Array): string {
  if (bytes[0] === 0xff && bytes[1] === 0xfe) return new TextDecoder('utf-16le').decode(bytes);
  if (bytes[0] === 0xfe && bytes[1] === 0xff) return new TextDecoder('utf-16be').decode(bytes);
  try {
    return new TextDecoder('utf-8', { fatal: true }).decode(bytes);
  } catch {
    return new TextDecoder('windows-1252').decode(bytes);
  }
}
