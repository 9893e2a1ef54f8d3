// Runs as a process of its own, whose memory is measured: makes mutants of a capture and has
// every command and the server open each. Says what came of it, a line of JSON for each.
import { copyFileSync, existsSync, mkdirSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { hostClock } from '../../../host/commands/host-clock.ts';
import { run } from '../../../host/commands/run.ts';
import { openCapture } from '../../../host/capture/read/reader.ts';
import { serve } from '../../../host/server/serve.ts';
import { mutate } from './mutants.ts';

export interface Outcome {
  seed: number;
  how: string;
  /** A command, or a question to the server. */
  what: string;
  /** Exit code, or HTTP status. */
  status: number;
  ms: number;
  /** Of the whole process, MB. */
  memory_MB: number;
  /** What was said beside the answer. */
  said: string;
  /** Readings that are in it and were not in the source: a check value that did not see the change. */
  changed?: number;
}

const [base, folder, fromText, countText] = process.argv.slice(2);
const from = Number(fromText),
  count = Number(countText);
const dir = join(folder!, 'captures');
mkdirSync(dir);
const BATCH = 20;

const memory_MB = () => process.memoryUsage().rss / 2 ** 20;
const report = (outcome: Outcome) => process.stdout.write(`${JSON.stringify(outcome)}\n`);

/** Calls a command as it is typed; what it prints on either stream. */
async function command(args: string[]): Promise<{ status: number; stdout: string; stderr: string }> {
  let stdout = '',
    stderr = '';
  const held = {
    log: console.log,
    err: process.stderr.write.bind(process.stderr),
    out: process.stdout.write.bind(process.stdout),
  };
  console.log = (text: unknown) => void (stdout += `${String(text)}\n`);
  process.stderr.write = (text: string | Uint8Array) => ((stderr += String(text)), true);
  process.stdout.write = (text: string | Uint8Array) => ((stdout += String(text)), true);
  try {
    return { status: await run(args), stdout, stderr };
  } finally {
    console.log = held.log;
    process.stderr.write = held.err;
    process.stdout.write = held.out;
  }
}

/** Means by run and number. */
function readingsOf(path: string): Map<string, number> {
  const capture = openCapture(path);
  try {
    return new Map(
      capture
        .readings()
        .flatMap(({ run: { hello }, windows }) =>
          Array.from(windows.seq, (seq, i) => [`${hello.boot}/${seq}`, windows.mean_uA[i]!] as const),
        ),
    );
  } finally {
    capture.close();
  }
}

const whole = readingsOf(base!);

/** Bits and pages are damage; single values under their own check value are lies, which nobody can see. */
const isDamage = (how: string) => /bits|byte|page|cut to/.test(how);

function changedIn(path: string): number {
  try {
    return [...readingsOf(path)].filter(([key, mean_uA]) => whole.has(key) && whole.get(key) !== mean_uA).length;
  } catch {
    return 0;
  }
}

const COMMANDS: [string, (path: string, out: string) => string[]][] = [
  ['analyse', (path) => ['analyse', path]],
  ['analyse --json', (path) => ['analyse', path, '--json']],
  ['about', (path) => ['about', path]],
  ['report', (path, out) => ['report', path, '--out', `${out}.svg`]],
  ['export json', (path, out) => ['export', path, '--out', `${out}.json`]],
  ['export csv', (path, out) => ['export', path, '--out', `${out}.csv`]],
  ['export parquet', (path, out) => ['export', path, '--out', `${out}.parquet`]],
  ['import', (path, out) => ['import', path, '--out', `${out}.nightdraw`]],
  ['mark', (path) => ['mark', path, '--at', '1s', '--text', 'x']],
  ['recalibrate', (path) => ['recalibrate', path, '--gain', '0.1', '--reason', 'x']],
  ['forget', (path) => ['forget', path]],
];

async function byCommands(seed: number, how: string, path: string): Promise<void> {
  const out = join(folder!, 'out');
  for (const [what, args] of COMMANDS) {
    for (const ending of ['svg', 'json', 'csv', 'parquet', 'nightdraw']) rmSync(`${out}.${ending}`, { force: true });
    const begin_ms = performance.now();
    const { status, stderr, stdout } = await command(args(path, out));
    const more = what === 'analyse' && status === 0 && isDamage(how) ? { changed: changedIn(path) } : {};
    report({
      seed,
      how,
      what,
      status,
      ms: performance.now() - begin_ms,
      memory_MB: memory_MB(),
      said: `${stderr}${/\u001b|NaN|undefined/.exec(stdout)?.[0] ?? ''}`,
      ...more,
    });
    if (what === 'export json' && status === 0 && existsSync(`${out}.json`)) {
      const back = await command(['import', `${out}.json`, '--out', `${out}.nightdraw`]);
      report({
        seed,
        how,
        what: 'import of the export',
        status: back.status,
        ms: 0,
        memory_MB: memory_MB(),
        said: back.stderr,
      });
    }
  }
}

interface Made {
  seed: number;
  how: string;
  name: string;
}

async function byServer(made: readonly Made[]): Promise<void> {
  const logged: string[] = [];
  const serving = await serve({
    checksAnswers: true,
    clock: hostClock,
    dir,
    pageDir: new URL('../../../.build/web', import.meta.url).pathname,
    port: 0,
    log: (line) => logged.push(line),
  });
  const ask = async (path: string) => {
    const response = await fetch(`${serving.url}api/${path}`);
    return { status: response.status, text: await response.text() };
  };
  for (;;) {
    const { text } = await ask('captures');
    if (!text.includes('"waiting"')) break;
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
  for (const { seed, how, name } of made) {
    for (const question of [
      '',
      '/findings',
      '/overview?from_s=0&to_s=150&bins=500',
      '/overview?from_s=2&to_s=2.5&bins=300',
      '/small',
      '/details',
    ]) {
      const begin_ms = performance.now();
      const { status, text } = await ask(`captures/${name}${question}`);
      report({
        seed,
        how,
        what: `serve ${question}`,
        status,
        ms: performance.now() - begin_ms,
        memory_MB: memory_MB(),
        said: status === 200 ? '' : text,
      });
    }
  }
  await serving.close();
  if (logged.length > 0)
    report({
      seed: made[0]!.seed,
      how: 'one of the batch',
      what: 'serve',
      status: 500,
      ms: 0,
      memory_MB: memory_MB(),
      said: logged.join('\n'),
    });
}

// The first use loads and compiles: what is there then is not the mutants'.
copyFileSync(base!, join(folder!, 'first.nightdraw'));
await byCommands(-1, 'none', join(folder!, 'first.nightdraw'));
for (let at = from; at < from + count; at += BATCH) {
  const made: Made[] = [];
  for (let seed = at; seed < Math.min(at + BATCH, from + count); seed++) {
    const name = `m${seed}.nightdraw`;
    made.push({ seed, name, ...mutate(seed, base!, join(dir, name)) });
  }
  await byServer(made);
  for (const { seed, how, name } of made) {
    await byCommands(seed, how, join(dir, name));
    for (const ending of ['', '-wal', '-shm', '-journal']) rmSync(join(dir, name + ending), { force: true });
  }
}
