// Where the parts that ship with the program lie, seen from the bundle in .build/host.

import { join } from 'node:path';
import { fileURLToPath } from 'node:url';

const build = fileURLToPath(new URL('..', import.meta.url));

/** The built page. */
export const PAGE_DIR = join(build, 'web');
/** The firmware image that is flashed, and run by the emulated board. */
export const IMAGE_PATH = join(build, 'firmware', 'nightdraw-atmega328p.hex');
/** Ready queries on the tree of many nights, and what its columns mean. */
export const FLEET_DIR = join(build, 'fleet');
/** The example nights. */
export const EXAMPLES_DIR = join(build, '..', 'captures');
