// One night's report from its file: read, judged and drawn, for the command line and for
// the page.

import { basename, extname } from 'node:path';
import type { Told } from '../contract/settings.ts';
import type { OpenedTrace } from '../night/open.ts';
import { openCapture } from '../capture/read/reader.ts';
import { judgedNight } from '../night/judge.ts';
import { BINS } from '../report/night-picture.ts';
import type { ReportSource } from '../report/source.ts';
import { makeReport } from '../report/report.ts';
import type { Format, Paper } from '../report/report.ts';
import { overviewOf } from '../night/overview.ts';
import { readLogo } from './logo-file.ts';
import { nightOptions } from './night-options.ts';
import { baySource, beforeSource } from './report-bay.ts';

export interface NightOrder {
  path: string;
  /** The night before the repair, and the work in the bay where another capture keeps it. */
  before: string | null;
  bay: string | null;
  /** Number plate, vehicle identity and customer too. */
  personal: boolean;
  /** What the workshop has set, and what is told here and now. */
  workshop: Told;
  told: Told;
  /** Where a logo is looked for. */
  folders: readonly string[];
  /** The currents are enough at the precision that they are drawn with. */
  singles: boolean;
}

export interface NightReport {
  opened: OpenedTrace;
  /** Of the report's file: the night's date first, so that names sort; then the name of the capture. */
  stem: string;
  make: (format: Format, paper: Paper) => Promise<Buffer>;
}

/** @throws Error or UsageError in one sentence; wrong use is told before a long file is read */
export async function readNight({
  path,
  before,
  bay,
  personal,
  workshop,
  told,
  folders,
  singles,
}: NightOrder): Promise<NightReport> {
  nightOptions(workshop, told);
  const logoName = told.workshop_logo ?? workshop.workshop_logo;
  const logo = logoName === undefined ? null : readLogo(logoName, folders);
  const judged = (file: string) => judgedNight(file, { workshop, asked: told }, { singles });
  const { opened, night } = await judged(path);
  const { info } = opened;
  const earlier = before === null ? null : await judged(before);
  const source: ReportSource = {
    night,
    info,
    logo,
    fileName: basename(path),
    bay: baySource(path, opened, bay),
    before: earlier === null ? null : beforeSource(before!, earlier.opened, earlier.night, night),
    personal: personal && info !== null ? personalOf(path) : {},
    workshop: told.workshop_name ?? workshop.workshop_name ?? null,
  };
  const whole = overviewOf(opened.trace)(0, night.trace.duration_s, BINS);
  return {
    opened,
    stem: stemOf(path, opened),
    make: (format, paper) => makeReport(source, whole, info?.marks ?? [], format, paper),
  };
}

function personalOf(path: string): ReportSource['personal'] {
  const capture = openCapture(path);
  try {
    return capture.personal();
  } finally {
    capture.close();
  }
}

/** Date of the night first, so that names sort; then the name of the file. */
function stemOf(path: string, { trace }: OpenedTrace): string {
  const name = basename(path, extname(path));
  if (trace.start_ms === null) return name;
  const at = new Date(trace.start_ms);
  const two = (n: number) => String(n).padStart(2, '0');
  const date = `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())}`;
  return name.startsWith(date) ? name : `${date}-${name}`;
}
