// A serial port of this computer, by the serial port package.

import { SerialPort } from 'serialport';
import { statSync } from 'node:fs';
import type { OpenPort } from './port.ts';

export const openSerialPort: OpenPort = (path, baud) => {
  const port = new SerialPort({ path, baudRate: baud, autoOpen: false });
  // Each failure is told where it is met; an event without a listener would end the program.
  port.on('error', () => undefined);
  return {
    open: () =>
      new Promise((resolve, reject) => {
        port.open((error) => (error === null || error === undefined ? resolve() : reject(error)));
      }),
    get isOpen() {
      return port.isOpen;
    },
    onData: (take) => void port.on('data', take),
    onClose: (tell) => void port.on('close', tell),
    write: (text, done) => void port.write(text, (error) => done(error ?? null)),
    close: () => new Promise((resolve) => port.close(() => resolve())),
    device: () => deviceAt(path),
  };
};

/**
 * Whether a path still leads to the device that was opened: a port that was torn out while it
 * was read may neither end nor fail (github.com/serialport/bindings-cpp issue 162), but its
 * name goes, or leads to another device when it is back. Null where the system has no file for ports.
 */
function deviceAt(path: string): string | null {
  try {
    const { ino, rdev } = statSync(path);
    return `${ino}/${rdev}`;
  } catch {
    return null;
  }
}
