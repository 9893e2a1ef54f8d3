// What tests need built, once before the first of them, so that none runs against stale
// code: host and page, the image and the C tests, the harness of the second emulator. What
// has not changed since is not built again.
import { execFile } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';

const root = new URL('..', import.meta.url).pathname;
/** Where make puts what it builds for tests. */
export const BUILT = join(root, '.build/tests');

const make = (folder: string, ...more: string[]) => ['-s', '-j2', '-C', join(root, folder), `BUILD=${join(BUILT, folder)}`, ...more];

/** Returns what clears away at the end. */
export default async function build(): Promise<() => void> {
  // What the program remembers of boards is not for the tests to write.
  const config = mkdtempSync(join(tmpdir(), 'nightdraw-config-'));
  process.env['XDG_CONFIG_HOME'] = config;
  const call = (program: string, args: string[]) => promisify(execFile)(program, args, { cwd: root, maxBuffer: 1 << 26 });
  await Promise.all([
    call('npm', ['run', '-s', 'build']),
    call('make', make('firmware', 'all', 'programs', 'fuzz')).then(() => call('make', make('tests/board/simavr'))),
  ]);
  return () => rmSync(config, { recursive: true, force: true });
}
