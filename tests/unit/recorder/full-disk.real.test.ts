// A disk that is really full (ENOSPC) before anything has told of it, as a quota or another
// program makes one; the board and the clock are virtual, the file and the disk are not.
import { mkdirSync, readdirSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { openTrace } from '../../../host/night/open.ts';
import { realDisk } from '../../../host/recorder/disk.ts';
import { record } from '../../../host/recorder/record.ts';
import { fill, mount, MOUNTS, unmount } from '../../small-disk.ts';
import { eachOnAFreshBench, folder, options, over, plug, progress, recorded, until } from './record-bench.ts';

eachOnAFreshBench('virtual');
let disk: string;

describe.runIf(MOUNTS)('a full disk', () => {
  beforeEach(() => {
    disk = join(folder, 'disk');
    mkdirSync(disk);
    mount(disk);
  });
  afterEach(() => unmount(disk));

  test('is said in one line, what was shown as recorded opens at once, and it goes on when there is room', async () => {
    plug();
    const out = join(disk, 'night');
    const done = record(options({ out, disk: { ...realDisk, free: () => 1e9 } })).catch((error: Error) => error);
    await until(() => progress.some(({ windows }) => windows > 50), '50 windows');
    const filler = fill(disk, 0);
    const ended = await over(done);
    expect(ended).toBeInstanceOf(Error);
    expect((ended as Error).message).toBe(
      `${out} cannot grow: the disk is full; what was shown as recorded is kept; free some space, then record on into the same file`,
    );
    const shown = progress.at(-1)!.windows;
    expect((await openTrace(out)).trace.mean_mA.length).toBeGreaterThanOrEqual(shown);
    rmSync(filler);
    const again = await recorded({ out, for_s: 10 });
    expect(again.resumedAt_s).not.toBeNull();
    expect((await openTrace(out)).trace.mean_mA.length).toBeGreaterThan(shown + 100);
    expect(readdirSync(disk)).toEqual(['night']);
  });
});
