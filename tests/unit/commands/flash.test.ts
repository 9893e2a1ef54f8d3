// `nightdraw flash`: what avrdude is asked to do, and that what is missing is said plainly.
import { spawnSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { avrdudeArguments, whatIsMissing } from '../../../host/commands/flash.ts';

const OPTIONS = { port: '/dev/ttyUSB0', image: '/x/board.hex' };

describe('what avrdude is asked to do', () => {
  test('a boot loader: the image, without erasing the chip or touching fuses', () => {
    expect(avrdudeArguments(OPTIONS)).toEqual([
      '-p',
      'm328p',
      '-c',
      'arduino',
      '-P',
      '/dev/ttyUSB0',
      '-b',
      '115200',
      '-D',
      '-U',
      'flash:w:/x/board.hex:i',
    ]);
  });

  test('a programmer: fuses and image, the fuses that BOARD.md gives', () => {
    const words = avrdudeArguments({ ...OPTIONS, port: 'usb', programmer: 'usbasp' });
    expect(words).toContain('usbasp');
    expect(words).not.toContain('-b');
    const page = readFileSync(new URL('../../../firmware/BOARD.md', import.meta.url), 'utf8');
    const fuses = words.filter((word) => word.includes('fuse'));
    expect(fuses.length).toBe(3);
    for (const fuse of fuses) expect(page).toContain(`-U ${fuse}`);
  });
});

describe('what is missing', () => {
  test('avrdude itself', () => {
    const ended = spawnSync('/nonexistent/avrdude', []);
    expect(whatIsMissing(ended, OPTIONS)).toMatch(/not installed.*apt-get install avrdude/);
  });

  test('an answer of the boot loader, a programmer', () => {
    expect(whatIsMissing({ status: 1 }, OPTIONS)).toMatch(/code 1.*RESET.*--programmer/);
    expect(whatIsMissing({ status: 1 }, { ...OPTIONS, programmer: 'usbasp' })).toMatch(/ISP wires.*'usbasp'/);
    expect(whatIsMissing({ status: null }, OPTIONS)).toMatch(/code none/);
  });

  test('nothing, where it went well', () => {
    expect(whatIsMissing({ status: 0 }, OPTIONS)).toBeNull();
  });
});
