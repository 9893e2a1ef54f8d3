// The package as it would be published, installed into an empty folder by npm itself: what
// is in it, and a night's work with nothing of this checkout beside it. The long form does
// the same with the newest of each Node.js that README.md names.
import { spawn, spawnSync } from 'node:child_process';
import type { ChildProcess } from 'node:child_process';
import { cpSync, existsSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, statSync } from 'node:fs';
import { isBuiltin } from 'node:module';
import { tmpdir } from 'node:os';
import { delimiter, join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';

const root = new URL('../../..', import.meta.url).pathname;
const own = JSON.parse(readFileSync(join(root, 'package.json'), 'utf8')) as {
  version: string;
  dependencies: Record<string, string>;
  optionalDependencies: Record<string, string>;
};
const isWhole = process.env['NIGHTDRAW_SOAK'] === '1';
/** The one package that npm compiles here; that takes more than a minute. */
const COMPILED = 'better-sqlite3-node20';
/** Of Node.js: the one that runs this, and others as npm's registry has them for this kind of machine. */
const OWN = 'this Node.js';
const MAJORS = isWhole ? [OWN, '22', '24'] : [OWN];
const kind = `${process.platform}-${process.arch}`;

let folder: string, home: string, files: string[], env: NodeJS.ProcessEnv;
const left: ChildProcess[] = [];

function ran(program: string, args: readonly string[], cwd: string): string {
  const { status, stdout, stderr } = spawnSync(program, args, { cwd, env, encoding: 'utf8', timeout: 600_000 });
  if (status !== 0) throw new Error(`${program} ${args.join(' ')} ended with ${status}: ${stderr}${stdout}`);
  return stdout;
}

/** Puts that Node.js, with the headers that compiling needs, before all others. */
function useNode(major: string): void {
  const [packed] = JSON.parse(
    ran('npm', ['pack', '--json', '--prefer-offline', '--pack-destination', folder, `node-${kind}@${major}`], folder),
  ) as { filename: string }[];
  const place = join(folder, 'node');
  mkdirSync(place);
  ran('tar', ['xzf', join(folder, packed!.filename), '-C', place, '--strip-components', '1'], folder);
  env = { ...env, PATH: `${join(place, 'bin')}${delimiter}${process.env['PATH']}`, npm_config_nodedir: place };
  expect(ran('node', ['--version'], folder)).toMatch(new RegExp(`^v${major}\\.`));
}

const nightdraw = (...args: string[]) => ran(join(home, 'node_modules/.bin/nightdraw'), args, home);
const versionIn = (place: string, name: string) =>
  (JSON.parse(readFileSync(join(place, 'node_modules', name, 'package.json'), 'utf8')) as { version: string }).version;

/** Leaves a command running once it has said `ready`; returns what the first group of it matched. */
async function leftRunning(args: string[], ready: RegExp): Promise<string> {
  const child = spawn(join(home, 'node_modules/.bin/nightdraw'), args, {
    cwd: home,
    env,
    stdio: ['ignore', 'pipe', 'pipe'],
  });
  left.push(child);
  return new Promise((resolve, reject) => {
    let said = '';
    const listen = (bytes: Buffer) => {
      const found = ready.exec((said += bytes.toString()));
      if (found !== null) resolve(found[1] ?? '');
    };
    child.stdout.on('data', listen);
    child.stderr.on('data', listen);
    child.on('exit', (code) => reject(new Error(`${args.join(' ')} ended with ${code}: ${said}`)));
  });
}

describe.each(MAJORS)('the package on %s', (major) => {
  beforeAll(() => {
    folder = mkdtempSync(join(tmpdir(), 'nightdraw-packed-'));
    env = { ...process.env, XDG_CONFIG_HOME: join(folder, 'config'), NODE_PATH: '' };
    if (major !== OWN) useNode(major);
    home = join(folder, 'empty');
    mkdirSync(home);
    // Packing would build again what was built for these tests.
    const [packed] = JSON.parse(
      ran('npm', ['pack', '--json', '--ignore-scripts', '--pack-destination', folder], root),
    ) as { filename: string; files: { path: string }[] }[];
    files = packed!.files.map(({ path }) => path);
    // From npm's cache, which the checkout's own installation filled, else from where that came.
    const options = ['--prefer-offline', '--no-audit', '--no-fund', ...(isWhole ? [] : ['--ignore-scripts'])];
    ran('npm', ['install', ...options, join(folder, packed!.filename)], home);
    if (isWhole) return;
    if (versionIn(home, COMPILED) === versionIn(root, COMPILED))
      cpSync(
        join(root, 'node_modules', COMPILED, 'build/Release/better_sqlite3.node'),
        join(home, 'node_modules', COMPILED, 'build/Release/better_sqlite3.node'),
      );
    else ran('npm', ['rebuild', COMPILED], home);
  }, 900_000);

  afterAll(async () => {
    for (const child of left.splice(0)) {
      const gone = new Promise((resolve) => child.once('exit', resolve));
      if (child.exitCode === null && child.kill('SIGINT')) await gone;
    }
    rmSync(folder, { recursive: true, force: true });
  });

  test('holds what runs and what a user reads, and nothing that only developers need', () => {
    for (const path of [
      'README.md',
      'LICENSE',
      'CHANGELOG.md',
      '.build/host/main.js',
      '.build/firmware/nightdraw-atmega328p.hex',
      'firmware/BOARD.md',
      'firmware/PROTOCOL.md',
      'host/capture/format/SPEC.md',
      'host/analysis/meaning/SETTINGS.md',
    ])
      expect(files).toContain(path);
    expect(
      files.filter(
        (path) =>
          /\.(map|ts|c|h)$|^(tests|web|node_modules)\//.test(path) && !path.startsWith('tests/browser/gallery/readme-'),
      ),
    ).toEqual([]);
    // What README.md points to is there, or is one of the pages for those who build it.
    const readme = readFileSync(join(home, 'node_modules/nightdraw/README.md'), 'utf8');
    const mentioned = [
      ...readme.matchAll(
        /`((?:host|firmware|captures)\/[\w/.-]+\.(?:md|csv))`|\]\(((?:host|firmware|captures|tests)\/[^)#]+)\)/g,
      ),
    ].map(([, code, link]) => code ?? link!);
    expect(mentioned.length).toBeGreaterThan(5);
    expect(mentioned.filter((path) => !existsSync(join(home, 'node_modules/nightdraw', path)))).toEqual([]);
  });

  test("brings every package that it asks for, and none of the developers'", () => {
    const { devDependencies } = JSON.parse(readFileSync(join(root, 'package.json'), 'utf8')) as {
      devDependencies: Record<string, string>;
    };
    const there = new Set(readdirSync(join(home, 'node_modules')));
    expect(
      ['typescript', 'vite', 'vitest', 'esbuild', 'oxlint', 'tsx', 'playwright-core'].filter(
        (name) => there.has(name) || !(name in devDependencies),
      ),
    ).toEqual([]);
    const bundles = join(home, 'node_modules/nightdraw/.build/host');
    const asked = new Set(
      readdirSync(bundles).flatMap((name) =>
        [
          ...readFileSync(join(bundles, name), 'utf8').matchAll(
            /^import .*? from "([^."][^"]*)";$|\bimport\("([^."][^"]*)"\)/gm,
          ),
        ].map(([, fixed, lazy]) => fixed ?? lazy!),
      ),
    );
    const packages = [...asked]
      .filter((name) => !isBuiltin(name))
      .map((name) =>
        name
          .split('/')
          .slice(0, name.startsWith('@') ? 2 : 1)
          .join('/'),
      );
    expect(packages.length).toBeGreaterThan(4);
    expect(packages.filter((name) => !(name in own.dependencies))).toEqual([]);
  });

  test('says its version and its commands', () => {
    expect(nightdraw('--version')).toBe(`${own.version}\n`);
    expect(ran('npx', ['--no', '--', 'nightdraw', '--version'], home)).toContain(own.version);
    expect(nightdraw('--help')).toMatch(/^ {2}record /m);
  });

  test('emulates, records, analyses, reports and serves', async () => {
    const port = join(folder, 'board'),
      capture = join(home, 'captures/try.nightdraw');
    await leftRunning(['emulate', '--link', port, '--car', 'bench', '--speed', '5'], /is at /);
    mkdirSync(join(home, 'captures'));
    nightdraw('record', '--port', port, '--for', '20s', '--out', capture);
    const { trace, verdict } = JSON.parse(nightdraw('analyse', capture, '--json')) as {
      trace: { duration_s: number; mean_mA: number };
      verdict: { code: string };
    };
    expect(trace.duration_s).toBeGreaterThan(19);
    expect(trace.mean_mA).toBeGreaterThan(0);
    expect(verdict.code).toBe('short');
    const starts = { pdf: '%PDF-', html: '<!doctype html', png: '\x89PNG', svg: '<svg' };
    for (const [form, start] of Object.entries(starts)) {
      const out = join(home, `try.${form}`);
      nightdraw('report', capture, '--out', out);
      expect(readFileSync(out, 'latin1').slice(0, 200).toLowerCase()).toContain(start.toLowerCase());
      expect(statSync(out).size).toBeGreaterThan(2000);
    }
    const url = await leftRunning(['serve', '--port', '0'], /The view is at (\S+)/);
    expect(await (await fetch(url)).text()).toContain('<title>');
    expect(JSON.stringify(await (await fetch(new URL('api/captures', url))).json())).toContain('try.nightdraw');
  });

  test('shows the example nights, which came along', async () => {
    const url = await leftRunning(['start', '--port', '0'], /The view is at (\S+)/);
    expect(JSON.stringify(await (await fetch(new URL('api/captures', url))).json())).toContain('wakes-often.nightdraw');
  });
});
