// A small disk in memory, mounted for a test that fills it or makes it read-only; mounting
// takes root, and where it is not allowed such tests are left out and that is said.
import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, statfsSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

function mayMount(): boolean {
  const at = mkdtempSync(join(tmpdir(), 'nightdraw-mount-'));
  const may =
    process.platform === 'linux' && spawnSync('mount', ['-t', 'tmpfs', '-o', 'size=1m', 'tmpfs', at]).status === 0;
  if (may) execFileSync('umount', [at]);
  rmSync(at, { recursive: true });
  return may;
}

export const MOUNTS = mayMount();
if (!MOUNTS) console.log('full and read-only disks are not tried: mounting one takes root');

export const mount = (at: string): unknown => execFileSync('mount', ['-t', 'tmpfs', '-o', 'size=24m', 'tmpfs', at]);
export const unmount = (at: string): unknown => execFileSync('umount', ['-l', at]);

/** Leaves `left` bytes free. @returns the file that takes the rest */
export function fill(disk: string, left: number): string {
  const { bavail, bsize } = statfsSync(disk);
  const filler = join(disk, 'filler');
  writeFileSync(filler, Buffer.alloc(Math.max(0, bavail * bsize - left), 1));
  return filler;
}
