// One opened file, capture or CSV, as the library asks it: what it says of itself,
// bins for drawing, and the trace for the analysis.

import { fullScaleOf_mA } from '../analysis/meaning/full-scale.ts';
import type { NightMeaning } from '../analysis/meaning/interpret.ts';
import { layered, optionsFrom, toldInCapture } from '../analysis/meaning/settings.ts';
import type { Told } from '../analysis/meaning/settings.ts';
import { readCsv } from '../capture/csv.ts';
import { openCapture } from '../capture/reader.ts';
import { kindOfFile } from '../capture/schema.ts';
import type { CaptureInfo as CaptureSelf, Trace, VoltageTrace } from '../capture/types.ts';
import type { CaptureInfo, Overview } from './api.ts';
import type { CaptureFile } from './folder.ts';
import { joinHoles, overviewOf, rounded } from './overview.ts';

export interface Source {
  info: Omit<CaptureInfo, 'name'>;
  trace(): Trace;
  /** Battery voltage beside the current; absent or null where the file has none. */
  voltage?(): VoltageTrace | null;
  /** Where the board's range ends; absent or null where nobody knows. */
  fullScale_mA?: number | null;
  /** What the file itself tells of car and battery. */
  told?: Told;
  overview(from_s: number, to_s: number, bins: number): Overview;
  close(): void;
}

/** Bins asked for beyond each edge, at most. */
const EDGE_BINS_MAX = 2000;

/** @throws Error in one sentence where the file cannot be read */
export async function openSource(file: CaptureFile): Promise<Source> {
  return kindOfFile(file.path) === 'database' ? captureSource(file.path) : csvSource(file.path);
}

function captureSource(path: string): Source {
  const capture = openCapture(path);
  try {
    const self = capture.info();
    if (self.samples === 0) throw new Error('it holds no reading; its recording was stopped before the first one');
    // Points leave bins empty that are narrower than their spacing.
    const spacing_s = self.duration_s / self.samples;
    return {
      info: {
        start_ms: self.start_ms, duration_s: self.duration_s, samples: self.samples, job: self.job ?? '',
        marks: self.marks, origin: originOf(self),
      },
      trace: () => capture.trace(),
      voltage: () => capture.voltage(),
      fullScale_mA: fullScaleOf_mA(self.runs),
      told: toldInCapture(self),
      overview: (from_s, to_s, bins) => {
        // Points further out than the edges stand for the bins at the edges.
        const width_s = (to_s - from_s) / bins;
        const more = self.kind === 'imported' ? Math.min(EDGE_BINS_MAX, Math.ceil((2 * spacing_s) / width_s)) : 0;
        const { mean, min, max } = capture.overview(from_s - more * width_s, to_s + more * width_s, bins + 2 * more);
        const wide = { from_s, to_s, mean_mA: rounded(mean), min_mA: rounded(min), max_mA: rounded(max) };
        return cut(self.kind === 'imported' ? joinHoles(wide, spacing_s, width_s) : wide, more, bins);
      },
      close: () => capture.close(),
    };
  } catch (error) {
    capture.close();
    throw error;
  }
}

function cut(wide: Overview, first: number, bins: number): Overview {
  const part = (values: (number | null)[]) => values.slice(first, first + bins);
  return { ...wide, mean_mA: part(wide.mean_mA), min_mA: part(wide.min_mA), max_mA: part(wide.max_mA) };
}

function originOf(self: CaptureSelf): CaptureInfo['origin'] {
  const facts: CaptureInfo['origin'] = [];
  for (const [label, value] of Object.entries(self.origin ?? {})) {
    facts.push({ label, value: typeof value === 'string' ? value : JSON.stringify(value) });
  }
  const boards = new Map(self.runs.map((run) => [run.hello.id, run.hello]));
  for (const [id, hello] of boards) {
    facts.push({ label: 'board', value: `${id}, firmware ${hello.fw}, shunt ${hello.shunt_nOhm / 1000} µΩ` });
  }
  if (self.state === 'recording') facts.push({ label: 'state', value: 'still being recorded, or its recorder was stopped hard' });
  if (self.badLineCount > 0) facts.push({ label: 'lines not believed', value: String(self.badLineCount) });
  return facts;
}

async function csvSource(path: string): Promise<Source> {
  const { trace, voltage } = await readCsv(path);
  const samples = trace.mean_mA.length;
  if (samples === 0) throw new Error('it holds no reading');
  const last = samples - 1;
  const duration_s = trace.time.kind === 'regular' ? last * trace.time.step_s : trace.time.t_s[last]!;
  return {
    info: { start_ms: trace.start_ms, duration_s, samples, job: '', marks: [], origin: [] },
    trace: () => trace,
    voltage: () => voltage,
    overview: overviewOf(trace),
    close: () => undefined,
  };
}

export async function analyseSource(source: Source, workshop: Told = {}): Promise<NightMeaning> {
  const { interpret } = await import('../analysis/meaning/interpret.ts');
  return interpret({ trace: source.trace(), voltage: source.voltage?.() ?? null, fullScale_mA: source.fullScale_mA ?? null }, optionsFrom(layered(workshop, source.told ?? {})));
}
