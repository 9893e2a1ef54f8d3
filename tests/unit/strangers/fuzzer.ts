// Looks for bytes that a target stumbles over, guided by what they reach: bytes that run a
// stretch of code which none before had run are kept, and changed further (M. Zalewski's
// scheme; coverage by V8's own profiler, block by block).
import { Session } from 'node:inspector/promises';
import { seededRandom } from '../../../host/emulator/random.ts';
import { isOurs } from './fuzz-targets.ts';
import type { Target } from './fuzz-targets.ts';

/** Runs between two looks at what was reached: a look costs as much as some dozen runs. */
const BATCH = 512;
const INPUT_BYTES_MOST = 8192;
const HANG_MS = 1000;
const MEMORY_BYTES_MOST = 200e6;

export interface Found {
  bytes: Buffer;
  what: string;
}

export interface FuzzResult {
  runs: number;
  /** Stretches of code that were reached. */
  reached: number;
  /** Bytes that reached something new, the seeds left out. */
  kept: Buffer[];
  found: Found[];
}

export interface FuzzOptions {
  seed: number;
  /** Ends at whichever comes first. */
  seconds: number;
  runs: number;
  corpus: readonly Buffer[];
  /** Whether V8 tells what was reached; without, bytes are changed blindly. */
  guided: boolean;
}

/** @param onFound told at once: a hang may be the last thing that happens */
export async function fuzz(
  target: Target,
  { seed, seconds, runs: most, corpus, guided }: FuzzOptions,
): Promise<FuzzResult> {
  const random = seededRandom(seed);
  const change = mutator(random, target.words);
  const inputs: Buffer[] = [...target.seeds, ...corpus];
  const kept: Buffer[] = [],
    found: Found[] = [];
  const coverage = guided ? await Coverage.start() : null;
  let runs = 0;
  for (const input of inputs) tried(target, input, found);
  await coverage?.news();
  const begin_ms = performance.now();
  while (runs < most && performance.now() - begin_ms < seconds * 1000) {
    const batch = Array.from({ length: BATCH }, () => change(inputs[Math.floor(random() * inputs.length)]!, inputs));
    const before = process.memoryUsage.rss();
    for (const bytes of batch) tried(target, bytes, found);
    if (process.memoryUsage.rss() - before > MEMORY_BYTES_MOST)
      found.push({ bytes: batch[0]!, what: `one of ${BATCH} took over ${MEMORY_BYTES_MOST / 1e6} MB` });
    runs += batch.length;
    if (coverage === null || (await coverage.news()) === 0) continue;
    // Which of them it was: what is new is new once more, part by part.
    coverage.forgetLast();
    for (const bytes of await newAmong(batch, target, coverage)) {
      kept.push(bytes);
      inputs.push(bytes);
    }
  }
  const reached = coverage?.size ?? 0;
  await coverage?.stop();
  return { runs, reached, kept, found };
}

/** Those of `batch` that reach something new, found by halves: most halves reach nothing. */
async function newAmong(batch: readonly Buffer[], target: Target, coverage: Coverage): Promise<Buffer[]> {
  for (const bytes of batch) tried(target, bytes, []);
  if ((await coverage.news()) === 0) return [];
  if (batch.length === 1) return [...batch];
  coverage.forgetLast();
  const half = batch.length >> 1;
  return [
    ...(await newAmong(batch.slice(0, half), target, coverage)),
    ...(await newAmong(batch.slice(half), target, coverage)),
  ];
}

function tried({ run }: Target, bytes: Buffer, found: Found[]): void {
  const begin_ms = performance.now();
  try {
    run(bytes);
  } catch (error) {
    if (isOurs(error))
      found.push({ bytes, what: error instanceof Error ? (error.stack ?? error.message) : String(error) });
  }
  const took_ms = performance.now() - begin_ms;
  if (took_ms > HANG_MS) found.push({ bytes, what: `took ${took_ms.toFixed(0)} ms` });
}

/** Stretches of the host's code that have been run, as V8 tells them. */
class Coverage {
  private seen = new Set<string>();
  private last: string[] = [];

  private constructor(private readonly session: Session) {}

  static async start(): Promise<Coverage> {
    const session = new Session();
    session.connect();
    await session.post('Profiler.enable');
    await session.post('Profiler.startPreciseCoverage', { callCount: true, detailed: true });
    return new Coverage(session);
  }

  get size(): number {
    return this.seen.size;
  }

  /** @returns how many were run for the first time since the last look */
  async news(): Promise<number> {
    const { result } = await this.session.post('Profiler.takePreciseCoverage');
    this.last = [];
    for (const { url, scriptId, functions } of result) {
      if (!url.includes('/host/')) continue;
      for (const { ranges } of functions) {
        for (const { startOffset, endOffset, count } of ranges) {
          if (count === 0) continue;
          // Once, some, and many times are different (loops).
          const key = `${scriptId}:${startOffset}:${endOffset}:${Math.min(4, Math.floor(Math.log2(count) / 3))}`;
          if (this.seen.has(key)) continue;
          this.seen.add(key);
          this.last.push(key);
        }
      }
    }
    return this.last.length;
  }

  /** What the last look found counts as new once more. */
  forgetLast(): void {
    for (const key of this.last) this.seen.delete(key);
  }

  async stop(): Promise<void> {
    await this.session.post('Profiler.stopPreciseCoverage');
    this.session.disconnect();
  }
}

/** Makes other bytes of bytes. */
function mutator(random: () => number, words: readonly string[]): (bytes: Buffer, others: readonly Buffer[]) => Buffer {
  const below = (n: number) => Math.floor(random() * n);
  const put = (bytes: Buffer, at: number, out: number, what: Uint8Array) =>
    Buffer.concat([bytes.subarray(0, at), what, bytes.subarray(at + out)]);
  return (original, others) => {
    let bytes = Buffer.from(original);
    for (let n = 1 + below(6); n > 0; n--) {
      const at = below(bytes.length + 1);
      switch (below(9)) {
        case 0:
          if (at < bytes.length) bytes[at]! ^= 1 << below(8);
          break;
        case 1:
          if (at < bytes.length) bytes[at] = below(256);
          break;
        case 2:
          bytes = put(
            bytes,
            at,
            0,
            Uint8Array.from({ length: 1 + below(4) }, () => below(256)),
          );
          break;
        case 3:
          bytes = put(bytes, at, 1 + below(16), new Uint8Array());
          break;
        case 4:
          bytes = put(bytes, at, 0, bytes.subarray(at, at + 1 + below(64)));
          break;
        case 5:
          bytes = put(bytes, at, below(4), Buffer.from(words[below(words.length)]!, 'utf8'));
          break;
        case 6:
          if (at < bytes.length) bytes[at] = [0, 1, 0x7f, 0x80, 0xff][below(5)]!;
          break;
        case 7: {
          const other = others[below(others.length)]!;
          bytes = Buffer.concat([bytes.subarray(0, at), other.subarray(below(other.length + 1))]);
          break;
        }
        // A digit is another, which keeps texts readable.
        default:
          if (at < bytes.length && bytes[at]! >= 48 && bytes[at]! <= 57) bytes[at] = 48 + below(10);
      }
    }
    return bytes.subarray(0, INPUT_BYTES_MOST);
  };
}
