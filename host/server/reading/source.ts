// One opened file, capture or CSV, as the library asks it: what it says of itself,
// and bins for drawing.

import { boardNumber } from '../../say/board.ts';
import { readCsv } from '../../capture/exchange/csv.ts';
import { openCapture } from '../../capture/read/reader.ts';
import type { Capture } from '../../capture/read/reader.ts';
import { readBay } from '../../capture/store/bay-log.ts';
import { kindOfFile } from '../../capture/format/schema.ts';
import type { CaptureInfo, Trace } from '../../contract/capture.ts';
import type { NightInfo, Overview, WorkInBay } from '../../contract/api.ts';
import { asOverview, joinHoles, overviewOf } from '../../night/overview.ts';
import type { OverviewOf } from '../../night/overview.ts';

export interface Source {
  info: Omit<NightInfo, 'name'>;
  overview: OverviewOf;
  /** What it holds in memory for as long as it is open. */
  bytes: number;
  close(): void;
}

/** Bins asked for beyond each edge, at most. */
const EDGE_BINS_MAX = 2000;

/** Above this many samples a capture's coarse picture is kept in memory. */
const LARGE_SAMPLES = 1e6;
/** Samples in one bin of that picture, as many as in a group of the file's own pyramid, and its bins at most. */
const GRID_SAMPLES = 64;
const GRID_BINS_MAX = 1 << 20;
/** It answers where so many of its bins fall into each that is asked for; closer in, the file does. */
const GRID_PER_BIN = 4;
/** The answer that comes before it is on its way by then. */
const GRID_AFTER_MS = 50;
/** Mean, extremes, time and length of a bin, and a tenth for the storeys above. */
const GRID_BYTES = 5 * 8 * 1.1;

/** @throws Error in one sentence where the file cannot be read */
export async function openSource(path: string): Promise<Source> {
  if (kindOfFile(path) !== 'database') return csvSource(path);
  const kept = readBay(path);
  return captureSource(path, kept === null ? null : await workIn(kept));
}

/** What came of the work, or why it cannot be read: the night is shown all the same. */
async function workIn(kept: NonNullable<ReturnType<typeof readBay>>): Promise<WorkInBay | Error> {
  const { bayResults, isWorkAlone } = await import('../../bay/work/results.ts');
  try {
    const results = bayResults(kept);
    const { sentence, next, sum, parts } = results;
    return { alone: isWorkAlone(results), sentence, next, sum: sum?.sentence ?? null, parts };
  } catch (error) {
    return error as Error;
  }
}

function captureSource(path: string, work: WorkInBay | Error | null): Source {
  const capture = openCapture(path, { singles: true });
  try {
    const self = capture.info();
    if (self.samples === 0) throw new Error('it holds no reading; its recording was stopped before the first one');
    const grid = self.samples > LARGE_SAMPLES && self.state === 'finished' ? gridOf(capture, self) : null;
    return {
      info: {
        start_ms: self.start_ms,
        duration_s: self.duration_s,
        samples: self.samples,
        job: self.job ?? '',
        marks: self.marks,
        bay: work instanceof Error ? null : work,
        origin: [
          ...originOf(self),
          ...(work instanceof Error ? [{ label: 'work in the bay', value: `left out: ${work.message}` }] : []),
        ],
      },
      overview: (from_s, to_s, bins) => {
        const coarse = grid !== null && (to_s - from_s) / bins >= GRID_PER_BIN * grid.width_s ? grid.overview() : null;
        return withoutHoles(self, from_s, to_s, bins, coarse ?? fromFile(capture));
      },
      bytes: grid?.bytes ?? 0,
      close: () => {
        grid?.close();
        capture.close();
      },
    };
  } catch (error) {
    capture.close();
    throw error;
  }
}

function fromFile(capture: Capture): OverviewOf {
  return (from_s, to_s, bins) => asOverview(capture.overview(from_s, to_s, bins), from_s, to_s);
}

/**
 * Points leave bins empty that are narrower than their spacing, and those further out than the edges stand for the bins
 * at the edges.
 */
function withoutHoles(self: CaptureInfo, from_s: number, to_s: number, bins: number, overview: OverviewOf): Overview {
  if (self.kind !== 'imported') return overview(from_s, to_s, bins);
  const spacing_s = self.duration_s / self.samples;
  const width_s = (to_s - from_s) / bins;
  const more = Math.min(EDGE_BINS_MAX, Math.ceil((2 * spacing_s) / width_s));
  return cut(
    joinHoles({ ...overview(from_s - more * width_s, to_s + more * width_s, bins + 2 * more) }, spacing_s, width_s),
    more,
    bins,
    from_s,
    to_s,
  );
}

interface Grid {
  width_s: number;
  bytes: number;
  /** Null until it is made. */
  overview(): OverviewOf | null;
  close(): void;
}

/**
 * The whole capture in bins about as fine as the groups of its own pyramid. Begun when it
 * is first asked for and made once that question is answered from the file: whoever
 * opens a night sees all of it first, and zooms in after that.
 */
function gridOf(capture: Capture, { samples, duration_s }: CaptureInfo): Grid {
  const bins = Math.min(GRID_BINS_MAX, Math.ceil(samples / GRID_SAMPLES));
  let made: OverviewOf | null = null;
  let making: NodeJS.Timeout | null = null;
  const make = () => {
    const { t_s, mean, min, max } = capture.overview(0, duration_s, bins);
    const filled = (_: number, i: number) => !Number.isNaN(mean[i]!);
    const mean_mA = mean.filter(filled);
    made = overviewOf({
      kind: 'windows',
      start_ms: null,
      time: { kind: 'listed', t_s: t_s.filter(filled) },
      dur_s: new Float64Array(mean_mA.length).fill(duration_s / bins),
      mean_mA,
      min_mA: min.filter(filled),
      max_mA: max.filter(filled),
      gaps: [],
    });
  };
  return {
    width_s: duration_s / bins,
    bytes: bins * GRID_BYTES,
    overview: () => {
      making ??= setTimeout(make, GRID_AFTER_MS);
      return made;
    },
    close: () => void (making !== null && clearTimeout(making)),
  };
}

function cut(wide: Overview, first: number, bins: number, from_s: number, to_s: number): Overview {
  const part = (values: (number | null)[]) => values.slice(first, first + bins);
  return { from_s, to_s, mean_mA: part(wide.mean_mA), min_mA: part(wide.min_mA), max_mA: part(wide.max_mA) };
}

function originOf(self: CaptureInfo): NightInfo['origin'] {
  const facts: NightInfo['origin'] = [];
  for (const [label, value] of Object.entries(self.origin ?? {})) {
    facts.push({ label, value: typeof value === 'string' ? value : JSON.stringify(value) });
  }
  const boards = new Map(self.runs.map((run) => [run.hello.id, run.hello]));
  for (const [id, hello] of boards) {
    facts.push({
      label: 'board',
      value: `${boardNumber(id)}, firmware ${hello.fw}, shunt ${hello.shunt_nOhm / 1000} µΩ`,
    });
  }
  if (self.state === 'recording')
    facts.push({ label: 'state', value: 'still being recorded, or its recorder was stopped hard' });
  if (self.badLineCount > 0) facts.push({ label: 'lines not believed', value: String(self.badLineCount) });
  return facts;
}

async function csvSource(path: string): Promise<Source> {
  const { trace } = await readCsv(path);
  const samples = trace.mean_mA.length;
  if (samples === 0) throw new Error('it holds no reading');
  const last = samples - 1;
  const duration_s = trace.time.kind === 'regular' ? last * trace.time.step_s : trace.time.t_s[last]!;
  // Made only for whoever draws.
  let made: OverviewOf | null = null;
  return {
    info: { start_ms: trace.start_ms, duration_s, samples, job: '', marks: [], bay: null, origin: [] },
    overview: (from_s, to_s, bins) => (made ??= overviewOf(trace))(from_s, to_s, bins),
    bytes: samples * bytesOfSample(trace),
    close: () => undefined,
  };
}

function bytesOfSample({ time, min_mA, max_mA }: Trace): number {
  const columns = 1 + (time.kind === 'listed' ? 1 : 0) + (min_mA === null ? 0 : 1) + (max_mA === null ? 0 : 1);
  // A tenth for the pyramid over them.
  return 8 * (columns + 0.1);
}
