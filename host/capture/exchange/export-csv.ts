// A trace as CSV: the columns that `import` and any spreadsheet read. Numbers stand in
// the shortest form that reads back to the same bits.

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
  const at = (i: number) => (trace.time.kind === 'listed' ? trace.time.t_s[i]! : i * trace.time.step_s);
  let v = 0,
    m = 0;
  for (let i = 0; i < mean_mA.length; i++) {
    const next_s = i + 1 < mean_mA.length ? at(i + 1) : Infinity;
    const row = [
      number(at(i)),
      ...(dur_s === null ? [] : [number(dur_s[i])]),
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
