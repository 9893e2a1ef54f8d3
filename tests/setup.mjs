// Makes sure that the Debian packages which the tests need are there: installs them where it
// may (as root, with apt-get), else prints the exact command and fails. `node tests/setup.mjs
// real` brings what only the real tests need too.
import { execFileSync, spawnSync } from 'node:child_process';
import { existsSync } from 'node:fs';

/** package -> a file that it brings, as seen by the tests. */
const GATE = {
  make: '/usr/bin/make',
  gcc: '/usr/bin/gcc',
  'gcc-avr': '/usr/bin/avr-gcc',
  'avr-libc': '/usr/lib/avr/include/avr/io.h',
  'binutils-avr': '/usr/bin/avr-objcopy',
  'libcmocka-dev': '/usr/include/cmocka.h',
  'clang-14': '/usr/bin/clang-14',
  'libclang-rt-14-dev': '/usr/lib/llvm-14/lib/clang/14.0.6/include/sanitizer/asan_interface.h',
  'libsimavr-dev': '/usr/include/simavr/sim_avr.h',
  'libelf-dev': '/usr/include/libelf.h',
  'chromium-headless-shell': '/usr/bin/chromium-headless-shell',
  'poppler-utils': '/usr/bin/pdftotext',
  'zbar-tools': '/usr/bin/zbarimg',
  git: '/usr/bin/git',
};

/** The shells that are completed in, and the programs that read the unit and the rule of `always-on`. */
const REAL = {
  zsh: '/bin/zsh',
  fish: '/usr/bin/fish',
  systemd: '/usr/bin/systemd-analyze',
  udev: '/bin/udevadm',
  ngspice: '/usr/bin/ngspice',
};

const [which] = process.argv.slice(2);
if (which !== undefined && which !== 'real') {
  console.error(`${which} is no set of tests; give 'real', or nothing for those of npm test`);
  process.exit(2);
}
const NEEDED = which === 'real' ? { ...GATE, ...REAL } : GATE;

const missing = Object.keys(NEEDED).filter((name) => !existsSync(NEEDED[name]));
if (missing.length > 0) {
  const install = ['install', '-y', '--no-install-recommends', ...missing];
  const root = process.getuid?.() === 0 && spawnSync('apt-get', ['--version']).status === 0;
  if (!root) {
    console.error(`The tests need these Debian packages: sudo apt-get update && sudo apt-get ${install.join(' ')}`);
    process.exit(1);
  }
  console.error(`Installing Debian packages that the tests need: ${missing.join(' ')}`);
  const env = { ...process.env, DEBIAN_FRONTEND: 'noninteractive' };
  // The package list of a fresh machine is old or empty, and a lock may be held for some seconds.
  const wait = ['-o', 'DPkg::Lock::Timeout=300', '-q'];
  execFileSync('apt-get', [...wait, 'update'], { env, stdio: ['ignore', 'ignore', 'inherit'] });
  execFileSync('apt-get', [...wait, ...install], { env, stdio: ['ignore', 'ignore', 'inherit'] });
  const still = missing.filter((name) => !existsSync(NEEDED[name]));
  if (still.length > 0) {
    console.error(`Installed, yet not found: ${still.map((name) => `${name} (${NEEDED[name]})`).join(', ')}`);
    process.exit(1);
  }
}
