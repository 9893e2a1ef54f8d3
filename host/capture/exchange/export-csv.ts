// A trace as CSV: the columns that `import` and any spreadsheet read. Currents and voltages
// stand in the shortest form that reads back to the same bits, times to the microsecond: the
// board's clock counts no finer, what is below comes from its fit to the computer's.

import type { Trace, VoltageTrace } from '../../contract/capture.ts';

/**
 * A cell of text that a spreadsheet must not take for a formula: one that begins with
 * = + - @, a tab or a line end gets an apostrophe in front (OWASP, "CSV Injection"), and
 * delimiters and quotes are quoted (RFC 4180).
 */
export function textCell(text: string): string {
  const harmless = /^[=+\-@\t\r\n]/.test(text) ? `'${text}` : text;
  return /[",\r\n]/.test(harmless) ? `"${harmless.replace(/"/g, '""')}"` : harmless;
}

const number = (value: number | undefined): string => (value === undefined || Number.isNaN(value) ? '' : String(value));

/** Readings closer than this on average keep every digit of their times. */
const FINE_S = 1e-4;

/** Seconds as they are written: to the microsecond where readings stand far enough apart. O(1). */
function timesOf({ time, mean_mA }: Trace): (t_s: number | undefined) => string {
  const n = mean_mA.length;
  const apart_s = time.kind === 'regular' ? time.step_s : n < 2 ? 1 : (time.t_s[n - 1]! - time.t_s[0]!) / (n - 1);
  if (apart_s < FINE_S) return number;
  return (t_s) => number(t_s === undefined ? t_s : Math.round(t_s * 1e6) / 1e6);
}

/**
 * The lines of a trace, header first, each with its LF. A window stands at its start,
 * its length beside it; a voltage in the row that it was measured in.
 * @param marks texts, each in the row that its time falls into
 */
export function* csvLines(
  trace: Trace,
  voltage: VoltageTrace | null,
  marks: readonly { t_s: number; text: string }[],
): Generator<string> {
  const { mean_mA, min_mA, max_mA, dur_s } = trace;
  const columns = [
    't_s',
    ...(dur_s === null ? [] : ['dur_s']),
    'current_mA',
    ...(min_mA === null ? [] : ['min_mA']),
    ...(max_mA === null ? [] : ['max_mA']),
    ...(voltage === null ? [] : ['voltage_V']),
    ...(marks.length === 0 ? [] : ['mark']),
  ];
  yield `${columns.join(',')}\n`;
  const seconds = timesOf(trace);
  const at = (i: number) => (trace.time.kind === 'listed' ? trace.time.t_s[i]! : i * trace.time.step_s);
  let v = 0,
    m = 0;
  for (let i = 0; i < mean_mA.length; i++) {
    const next_s = i + 1 < mean_mA.length ? at(i + 1) : Infinity;
    const row = [
      seconds(at(i)),
      ...(dur_s === null ? [] : [seconds(dur_s[i])]),
      number(mean_mA[i]),
      ...(min_mA === null ? [] : [number(min_mA[i])]),
      ...(max_mA === null ? [] : [number(max_mA[i])]),
    ];
    if (voltage !== null) {
      const here = v < voltage.t_s.length && voltage.t_s[v]! < next_s;
      row.push(here ? number(voltage.voltage_V[v]) : '');
      while (v < voltage.t_s.length && voltage.t_s[v]! < next_s) v++;
    }
    if (marks.length > 0) {
      const texts: string[] = [];
      for (; m < marks.length && marks[m]!.t_s < next_s; m++) texts.push(marks[m]!.text);
      row.push(textCell(texts.join('; ')));
    }
    yield `${row.join(',')}\n`;
  }
}
