// The serial ports of this computer: by the package's list, by looking into /dev where
// that list is not to be had, and USB converters that no driver has taken.

import { SerialPort } from 'serialport';
import { readdirSync, readFileSync, statSync } from 'node:fs';
import { join } from 'node:path';
import type { Platform } from './port-errors.ts';

export interface PortEntry {
  path: string;
  /** Maker or product as the system tells, null where it does not. */
  about: string | null;
}

/** Ports that a board may be at, whether or not somebody has them. */
export type ListPorts = () => Promise<PortEntry[]>;

/** Console ports of the main board, which no USB device is at; nearly all of them have nothing behind. */
const BUILT_IN = /^\/dev\/ttyS\d+$/;
const IN_DEV = /^(ttyUSB|ttyACM|cu\.(usb|wch|SLAB)|cuaU)/;

/** @throws Error in one sentence where no list is to be had by any way */
export async function listPorts(): Promise<PortEntry[]> {
  try {
    const found = await SerialPort.list();
    return found
      .filter(({ path }) => !BUILT_IN.test(path))
      .map(({ path, manufacturer }) => ({ path, about: manufacturer ?? null }));
  } catch (error) {
    const inDev = portsInDev('/dev');
    if (inDev !== null) return inDev;
    throw new Error(
      `this system gives no list of ports (${(error as Error).message}); name the board's port with --port`,
      { cause: error },
    );
  }
}

/** Ports by the names that they have in `folder`; null where there is no such folder. */
export function portsInDev(folder: string): PortEntry[] | null {
  try {
    return readdirSync(folder)
      .filter((name) => IN_DEV.test(name))
      .sort()
      .map((name) => ({ path: join(folder, name), about: null }));
  } catch {
    return null;
  }
}

/** Name of the group that owns a port on Linux, null where it is not to be found out. */
export function groupOf(path: string): string | null {
  try {
    const { gid } = statSync(path);
    const line = readFileSync('/etc/group', 'utf8')
      .split('\n')
      .find((entry) => entry.split(':')[2] === String(gid));
    return line?.split(':')[0] ?? null;
  } catch {
    return null;
  }
}

/** USB serial converters by vendor and product (the kernel's own tables in drivers/usb/serial; from memory). */
const CONVERTERS: [RegExp, string, string][] = [
  [/^1a86:(7523|5523|55d[0-9a-f])$/, 'CH340', 'ch341'],
  [/^0403:60(01|10|11|14|15)$/, 'FTDI', 'ftdi_sio'],
  [/^10c4:ea[67][0-9a-f]$/, 'CP210x', 'cp210x'],
  [/^067b:23[0-9a-f]{2}$/, 'PL2303', 'pl2303'],
];

/**
 * Converters that are plugged in and have no port, told by the kernel's files below `sys`
 * (Linux): each with what loads its driver.
 */
export function withoutDriver(sys = '/sys/bus/usb/devices'): string[] {
  let devices: string[];
  try {
    devices = readdirSync(sys);
  } catch {
    return [];
  }
  const told: string[] = [];
  for (const device of devices.filter((name) => !name.includes(':'))) {
    const read = (name: string) => {
      try {
        return readFileSync(join(sys, device, name), 'utf8').trim();
      } catch {
        return '';
      }
    };
    const known = CONVERTERS.find(([ids]) => ids.test(`${read('idVendor')}:${read('idProduct')}`));
    if (known === undefined) continue;
    const interfaces = devices.filter((name) => name.startsWith(`${device}:`));
    const served = interfaces.some((name) => readdirSync(join(sys, name)).some((entry) => /^tty/.test(entry)));
    if (!served) {
      told.push(
        `a ${known[1]} serial converter is plugged in, but no driver has taken it; run 'sudo modprobe ${known[2]}', and remove the package brltty where it is installed (it takes such converters)`,
      );
    }
  }
  return told;
}

/** What to do where no port is to be seen at all. */
export function noPortAdvice(platform: Platform): string {
  if (platform === 'win32')
    return 'plug the board in; where Device Manager shows it with a yellow mark, install the driver of its USB converter (named on the chip: CH340, CP210x or FTDI)';
  if (platform === 'darwin')
    return "plug the board in, with a cable that carries data; macOS has drivers for common converters since 10.15, an older one needs its maker's";
  return "plug the board in, with a cable that carries data; 'dmesg' tells whether the computer has seen it";
}
