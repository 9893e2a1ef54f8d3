// What tests need built, once before the first of them, so that none runs against stale
// code: host and page, the image and the C tests, the harness of the second emulator. What
// has not changed since is not built again.
import { execFile } from 'node:child_process';
import { mkdtempSync, readdirSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';

const root = new URL('..', import.meta.url).pathname;
/** Where make puts what it builds for tests. */
export const BUILT = join(root, '.build/tests');

const make = (folder: string, ...more: string[]) => [
  '-s',
  '-j2',
  '-C',
  join(root, folder),
  `BUILD=${join(BUILT, folder)}`,
  ...more,
];

/** What host and page are built of, and the last thing that each build writes. */
const SOURCES = ['host', 'web', 'firmware/images', 'package.json', 'package-lock.json', 'tsconfig.json'];
const OUTPUTS = ['.build/fleet/SPEC.md', '.build/web/index.html'];

/** A file that was added or taken away shows in the time of its folder. */
const newest_ms = (path: string): number => {
  const found = statSync(path);
  const own_ms = Math.max(found.mtimeMs, found.ctimeMs);
  return found.isDirectory()
    ? readdirSync(path).reduce((newest, name) => Math.max(newest, newest_ms(join(path, name))), own_ms)
    : own_ms;
};

function isBuilt(): boolean {
  const built_ms = Math.min(
    ...OUTPUTS.map((path) => statSync(join(root, path), { throwIfNoEntry: false })?.ctimeMs ?? 0),
  );
  return built_ms > Math.max(...SOURCES.map((path) => newest_ms(join(root, path))));
}

/** Returns what clears away at the end. */
export default async function build(): Promise<() => void> {
  // What the program remembers of boards is not for the tests to write.
  const config = mkdtempSync(join(tmpdir(), 'nightdraw-config-'));
  process.env['XDG_CONFIG_HOME'] = config;
  const call = (program: string, args: string[]) =>
    promisify(execFile)(program, args, { cwd: root, maxBuffer: 1 << 26 });
  await Promise.all([
    // After `npm ci` it is.
    isBuilt() ? null : call('npm', ['run', '-s', 'build']),
    call('make', make('firmware', 'all', 'programs', 'fuzz'))
      .then(() => call('make', make('firmware', 'all', 'MCU=atmega1284p')))
      .then(() => call('make', make('tests/board/simavr'))),
  ]);
  return () => rmSync(config, { recursive: true, force: true });
}
