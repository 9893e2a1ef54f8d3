// SQLite by the driver that this Node.js can run. Two releases of better-sqlite3 are
// installed, since no single one runs on all of ours: 13 asks for Node-API 10, which Node
// 20 and 22 up to 22.13 do not have (there it ends the process with a segmentation fault,
// WiseLibs/better-sqlite3 issue 1514); 12 ends the process on Node 24.19 and later as soon
// as a statement is collected while no script runs (issue 1515).
import type { default as Driver } from 'better-sqlite3';
import { createRequire } from 'node:module';

const require = createRequire(import.meta.url);

/** The package for a Node.js of that Node-API version. */
export function driverFor(napi: number): 'better-sqlite3' | 'better-sqlite3-node20' {
  return napi >= 10 ? 'better-sqlite3' : 'better-sqlite3-node20';
}

export type Db = Driver.Database;
export type Statement = Driver.Statement;

export const Database = require(driverFor(Number(process.versions['napi']))) as typeof Driver;
