// The native tests pass, and the image that is shipped is the bit-for-bit build
// of the source, anywhere, within its ceilings of flash and RAM.
import { execFileSync, spawnSync } from 'node:child_process';
import { cpSync, mkdirSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import { BUILT } from '../../build.ts';

const root = new URL('../../..', import.meta.url).pathname;
const scratch = mkdtempSync(join(tmpdir(), 'firmware-'));
afterAll(() => rmSync(scratch, { recursive: true, force: true }));

const IMAGE = 'nightdraw-atmega328p.hex';
const FLASH_BYTES = 32_768;
/** The promise is 60 % of the flash. What the stack takes of the RAM is found in tests/board/worst.test.ts. */
const FLASH_CEILING = 0.6;
/** Stored ceilings of the present build: raise them on purpose, with the reason in the commit. */
const FLASH_STORED_BYTES = 19_660;
const RAM_STATIC_STORED_BYTES = 1_370;

/** Copies the source to a folder of its own, builds there, and returns make's output. */
function buildIn(folder: string): string {
  mkdirSync(folder, { recursive: true });
  cpSync(join(root, 'firmware'), folder, {
    recursive: true,
    filter: (path) => !/firmware\/(build|images)$/.test(path),
  });
  return execFileSync('make', ['-s', '-j2', '-C', folder], { encoding: 'utf8', stdio: ['ignore', 'pipe', 'pipe'] });
}

/** What make prints of an image that is built already. */
const sizesOf = (built: string) =>
  execFileSync('make', ['-s', '-C', join(root, 'firmware'), `BUILD=${built}`], { encoding: 'utf8' });

describe('firmware', () => {
  test('make check: every native unit test passes under the sanitizers', () => {
    const run = spawnSync('make', ['-s', '-C', join(root, 'firmware'), 'check', `BUILD=${join(BUILT, 'firmware')}`], {
      encoding: 'utf8',
    });
    const output = run.stdout + run.stderr;
    const passed = [...output.matchAll(/\[ {2}PASSED {2}\] (\d+) test/g)].reduce(
      (sum, match) => sum + Number(match[1]),
      0,
    );
    expect(run.status, output).toBe(0);
    expect(output).not.toContain('FAILED');
    expect(passed).toBeGreaterThanOrEqual(120);
  }, 240_000);

  test('the shipped image is the build of the source in two other folders, within its ceilings', () => {
    const shipped = readFileSync(join(root, 'firmware/images', IMAGE), 'utf8');
    const elsewhere = join(scratch, 'b', 'another depth');
    for (const [built, output] of [
      [join(elsewhere, 'build'), buildIn(elsewhere)],
      [join(BUILT, 'firmware'), sizesOf(join(BUILT, 'firmware'))],
    ] as const) {
      expect(
        readFileSync(join(built, IMAGE), 'utf8') === shipped,
        'run "make -C firmware image" and commit the image',
      ).toBe(true);
      const size = /^flash (\d+) of .* static RAM (\d+) of/m.exec(output);
      expect(size, output).not.toBeNull();
      const flash_bytes = Number(size![1]);
      const ramStatic_bytes = Number(size![2]);
      expect(flash_bytes).toBeLessThanOrEqual(FLASH_STORED_BYTES);
      expect(flash_bytes / FLASH_BYTES).toBeLessThanOrEqual(FLASH_CEILING);
      expect(ramStatic_bytes).toBeLessThanOrEqual(RAM_STATIC_STORED_BYTES);
    }
  }, 240_000);

  test('the flash that make prints is what the image holds', () => {
    const bytes = readFileSync(join(root, 'firmware/images', IMAGE), 'utf8')
      .split('\n')
      .filter((line) => line.startsWith(':') && line.slice(7, 9) === '00')
      .reduce((sum, line) => sum + Number.parseInt(line.slice(1, 3), 16), 0);
    const output = sizesOf(join(BUILT, 'firmware'));
    expect(Number(/^flash (\d+)/m.exec(output)?.[1])).toBe(bytes);
  }, 120_000);
});
