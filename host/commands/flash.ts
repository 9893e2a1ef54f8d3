// `flash`: writes the shipped firmware into a board by calling avrdude, and says plainly
// what is missing where it cannot.

import { spawn } from 'node:child_process';
import { existsSync } from 'node:fs';
import { optionalNumber, requiredText } from './command.ts';
import type { Command } from './command.ts';
import { IMAGE_PATH } from './shipped.ts';
import { answer } from './tell.ts';

/** avrdude's name for a boot loader that is spoken to over the serial port. */
const BOOT_LOADER = 'arduino';
const BOOT_LOADER_BAUD = 115_200;
/** Crystal, EEPROM kept, no boot loader, brown-out at 4.3 V: firmware/BOARD.md, "Building and flashing". */
const FUSES = ['lfuse:w:0xF7:m', 'hfuse:w:0xD7:m', 'efuse:w:0xFC:m'];
const PROGRAM = 'avrdude';

export interface FlashOptions {
  port: string;
  /** avrdude's name; the boot loader where not given. */
  programmer?: string;
  baud?: number;
  image: string;
}

/** The words that avrdude is called with. A programmer on the ISP pins also sets the fuses; a boot loader cannot. */
export function avrdudeArguments({ port, programmer = BOOT_LOADER, baud, image }: FlashOptions): string[] {
  const loader = programmer === BOOT_LOADER;
  const speed = baud ?? (loader ? BOOT_LOADER_BAUD : undefined);
  return [
    '-p',
    'm328p',
    '-c',
    programmer,
    '-P',
    port,
    ...(speed === undefined ? [] : ['-b', String(speed)]),
    ...(loader ? ['-D'] : FUSES.flatMap((fuse) => ['-U', fuse])),
    '-U',
    `flash:w:${image}:i`,
  ];
}

/** How avrdude ended: an error where it could not be started. */
export interface Ended {
  error?: Error;
  status: number | null;
}

/** Null where all went well, else what is missing and what to do, in one sentence. */
export function whatIsMissing(ended: Ended, options: FlashOptions): string | null {
  const error: NodeJS.ErrnoException | undefined = ended.error;
  if (error?.code === 'ENOENT')
    return `${PROGRAM} is not installed, and it does the writing; install it (Debian: sudo apt-get install ${PROGRAM}) and call this again`;
  if (ended.error !== undefined) return `${PROGRAM} could not be started: ${ended.error.message}`;
  if (ended.status === 0) return null;
  const advice =
    options.programmer === undefined
      ? `the board's boot loader did not answer or the image did not verify; press RESET just before, or use a programmer on the ISP pins (--programmer NAME)`
      : `check the six ISP wires, the board's 5 V, and that '${options.programmer}' is ${PROGRAM}'s name for the programmer`;
  return `${PROGRAM} ended with code ${ended.status ?? 'none'}, what it said is above: ${advice}`;
}

export const command: Command = {
  help: `nightdraw flash --port PATH [--programmer NAME] [--baud N]

Writes the firmware that ships with this program into an ATmega328P, with avrdude.
The board must not be clamped to a car meanwhile.

  --port PATH         serial port of the boot loader or of the programmer; for a
                      programmer on USB: usb
  --programmer NAME   a programmer on the ISP pins, by avrdude's name for it
                      ('avrdude -c ?' lists them); sets the fuses, too.
                      Without it: the board's boot loader
  --baud N            speed of the port (boot loader: ${BOOT_LOADER_BAUD})`,
  options: { port: { type: 'string' }, programmer: { type: 'string' }, baud: { type: 'string' } },
  positionals: 0,
  async run(values) {
    const port = requiredText(values, 'port', '/dev/ttyUSB0');
    const baud = optionalNumber(values, 'baud', 300, 4_000_000, 'bit/s');
    const { programmer } = values;
    const options: FlashOptions = {
      port,
      image: IMAGE_PATH,
      ...(typeof programmer === 'string' && { programmer }),
      ...(baud !== undefined && { baud }),
    };
    if (!existsSync(options.image))
      throw new Error(`the firmware image ${options.image} is missing; 'npm run build' puts it there`);
    if (port.startsWith('/') && !existsSync(port))
      throw new Error(`there is no port ${port}; plug the board in, and look for it under /dev/serial/by-id`);
    const ended = await new Promise<Ended>((resolve) => {
      const child = spawn(PROGRAM, avrdudeArguments(options), { stdio: 'inherit' });
      child.once('error', (error) => resolve({ error, status: null }));
      child.once('close', (status) => resolve({ status }));
    });
    const missing = whatIsMissing(ended, options);
    if (missing !== null) throw new Error(missing);
    answer('The firmware is written and verified. The board tells its version in its first line.');
    return 0;
  },
};
