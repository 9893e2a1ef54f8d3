// One plain sentence for each way in which a port does not open or is no board of
// ours, with the next step on this system.

/** A port that cannot be used, said in one sentence for the user. */
export class LinkError extends Error {
  /** @param cause_ what kind of trouble it is, for whoever lists ports */
  constructor(
    message: string,
    readonly kind: Trouble = 'other',
    options?: { cause: unknown },
  ) {
    super(message, options);
  }
}

export type Trouble =
  | 'absent'
  | 'busy'
  | 'forbidden'
  | 'no-port'
  | 'gone'
  | 'silent'
  | 'foreign'
  | 'baud'
  | 'proto'
  | 'other';

/** What `process.platform` says; an argument, so that every system's words are tried on one. */
export type Platform = NodeJS.Platform;

interface Case {
  kind: Trouble;
  /** Words of the system's messages, as the serial port package and the kernels write them. */
  words: RegExp;
  say: (path: string, platform: Platform, group: string | null) => string;
}

const EXAMPLE_PORT: Partial<Record<Platform, string>> = { win32: 'COM3', darwin: '/dev/cu.usbserial-1410' };
export const examplePort = (platform: Platform): string => EXAMPLE_PORT[platform] ?? '/dev/ttyUSB0';

function whoHolds(path: string, platform: Platform): string {
  if (platform === 'win32')
    return 'close the serial monitor, terminal or other program that has it open; unplug and plug the board in where none is to be found';
  return `close that one first ('${platform === 'darwin' ? 'lsof' : 'fuser -v'} ${path}' names it)`;
}

function letIn(path: string, platform: Platform, group: string | null): string {
  if (platform === 'win32') return `close the program that has it open: Windows gives a port to one program alone`;
  if (platform === 'darwin')
    return `allow this terminal to use it, or close the program that holds it ('lsof ${path}' names it)`;
  return `run 'sudo usermod -aG ${group ?? 'dialout'} $USER', then log out and in again`;
}

const CASES: Case[] = [
  {
    kind: 'absent',
    words: /no such file|file not found|ENOENT|does not exist/i,
    say: (path) =>
      `${path} is not there; check that the board is plugged in and the name is right ('nightdraw boards' lists what is there)`,
  },
  {
    kind: 'forbidden',
    words: /permission denied|EACCES|EPERM|not permitted/i,
    say: (path, platform, group) => `${path} may not be opened by this user; ${letIn(path, platform, group)}`,
  },
  {
    // Windows says "Access denied" of a port that somebody else has open.
    kind: 'busy',
    words: /cannot lock|temporarily unavailable|busy|EBUSY|EAGAIN|access denied/i,
    say: (path, platform) => `${path} is in use by another program; ${whoHolds(path, platform)}`,
  },
  {
    kind: 'no-port',
    words:
      /inappropriate ioctl|not a typewriter|ENOTTY|is a directory|EISDIR|unable to get|invalid argument|invalid function|error code 1\b/i,
    say: (path, platform) => `${path} is no serial port; give the board's port, such as ${examplePort(platform)}`,
  },
  {
    kind: 'gone',
    words: /no such device|ENXIO|ENODEV|input\/output|EIO|error code (31|433|1167)\b/i,
    say: (path) => `${path} has no device behind it any more; plug the board in again`,
  },
];

/** @param group the Linux group that owns the port, null where not known */
export function openError(path: string, error: Error, platform: Platform, group: string | null): LinkError {
  const found = CASES.find(({ words }) => words.test(error.message));
  if (found === undefined)
    return new LinkError(`${path} cannot be opened (${error.message})`, 'other', { cause: error });
  return new LinkError(found.say(path, platform, group), found.kind, { cause: error });
}

/** What a port sent instead of a hello. */
export interface Received {
  bytes: number;
  /** How many of them are neither text nor line ends. */
  unprintable: number;
  /** The last lines that were not believed, at most a few. */
  badLines: readonly string[];
}

/**
 * Text at the wrong bit rate turns into bytes of any value: about two in three are no text. A quarter is more than
 * noise makes.
 */
const GARBLED_SHARE = 0.25;

export function noHelloError(path: string, waited_s: number, received: Received, baud: number): LinkError {
  const start = `${path} is no nightdraw board: no hello within ${waited_s} s`;
  if (received.bytes === 0) {
    return new LinkError(
      `${start}, and not one byte came; check that it is the board's port and that the board has power`,
      'silent',
    );
  }
  if (received.unprintable > received.bytes * GARBLED_SHARE) {
    return new LinkError(
      `${start}, and ${received.unprintable} of ${received.bytes} bytes are no text: it talks at another rate than ${baud} baud; check that it is the board's port, its firmware is nightdraw's and its crystal 16 MHz`,
      'baud',
    );
  }
  const last = received.badLines[received.badLines.length - 1];
  const sample = last === undefined ? '' : `, such as '${printable(last).slice(0, 40)}'`;
  return new LinkError(
    `${start}, only ${received.bytes} bytes of something else${sample}; check that it is the board's port`,
    'foreign',
  );
}

export function wrongProtoError(path: string, proto: number, known: number): LinkError {
  return new LinkError(
    `the board at ${path} speaks version ${proto} of the line format and this nightdraw version ${known}; bring the older of the two up to date`,
    'proto',
  );
}

const printable = (text: string) => text.replace(/[^\x20-\x7e]/g, '.');
