// One plain sentence for each way in which a port does not open, with the next step.

/** A port that cannot be used, said in one sentence for the user. */
export class LinkError extends Error {}

/** Words of the system's messages, as the serial port package and the kernels write them. */
const CASES: [RegExp, (path: string) => string][] = [
  [/no such file|file not found|ENOENT|does not exist/i, (path) => `${path} is not there; check that the board is plugged in and the name is right`],
  [/cannot lock|temporarily unavailable|busy|EBUSY|EAGAIN/i, (path) => `${path} is in use by another program; close that one first`],
  [
    /permission denied|access denied|EACCES|EPERM|not permitted/i,
    (path) => `${path} may not be opened by this user; on Linux add the user to the group that owns it (often dialout) and log in again, elsewhere close the program that holds it`,
  ],
  [
    /inappropriate ioctl|not a typewriter|ENOTTY|is a directory|EISDIR|unable to get|invalid argument/i,
    (path) => `${path} is no serial port; give the board's port, such as /dev/ttyUSB0 or COM3`,
  ],
  [/no such device|ENXIO|ENODEV|input\/output|EIO/i, (path) => `${path} has no device behind it any more; plug the board in again`],
];

export function openError(path: string, error: Error): LinkError {
  const found = CASES.find(([words]) => words.test(error.message));
  return new LinkError(found === undefined ? `${path} cannot be opened (${error.message})` : found[1](path), { cause: error });
}

/** What a port sent instead of a hello. */
export interface Received {
  bytes: number;
  /** The last lines that were not believed, at most a few. */
  badLines: readonly string[];
}

export function noHelloError(path: string, waited_s: number, received: Received): LinkError {
  const start = `${path} is no nightdraw board: no hello within ${waited_s} s`;
  if (received.bytes === 0) return new LinkError(`${start}, and not one byte came; check that it is the board's port and that the board has power`);
  const last = received.badLines[received.badLines.length - 1];
  const sample = last === undefined ? '' : `, such as '${printable(last).slice(0, 40)}'`;
  return new LinkError(`${start}, only ${received.bytes} bytes of something else${sample}; check that it is the board's port`);
}

export function wrongProtoError(path: string, proto: number, known: number): LinkError {
  return new LinkError(
    `the board at ${path} speaks version ${proto} of the line format and this nightdraw version ${known}; bring the older of the two up to date`,
  );
}

const printable = (text: string) => text.replace(/[^\x20-\x7e]/g, '.');
