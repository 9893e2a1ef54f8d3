// The text of a CSV file that a spreadsheet wrote, whichever of the usual encodings it
// chose (WHATWG Encoding Standard).

/** Why a file is no CSV, in words that follow its name; null where it may be one. */
export function whyNoCsv(bytes: Uint8Array): string | null {
  if (bytes.length === 0) return 'is empty';
  // A spreadsheet's own file is a ZIP archive, or an old compound file.
  const isSpreadsheet = (bytes[0] === 0x50 && bytes[1] === 0x4b) || (bytes[0] === 0xd0 && bytes[1] === 0xcf);
  return isSpreadsheet ? 'is a file of the spreadsheet program itself; save it as CSV there first' : null;
}

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
