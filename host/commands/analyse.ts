// `analyse`: what a capture or a CSV shows, in words or as one JSON object.

import { analyse } from '../analysis/analyse.ts';
import { DEFAULT_OPTIONS } from '../analysis/findings.ts';
import type { AnalysisOptions, Findings, WakeUp } from '../analysis/findings.ts';
import { openTrace } from '../capture/open.ts';
import { optionalNumber } from './command.ts';
import type { Command, OptionValues } from './command.ts';

/** Steps and wake-ups told one by one in the terminal; more are counted. */
const LISTED_MAX = 40;

export const command: Command = {
  summary: 'says what a capture or a CSV shows',
  help: `nightdraw analyse FILE [--json] [--allow mA] [--step mA] [--hold S] [--rise mA]

FILE is a capture or a CSV with a time and a current column.

  --json       one JSON object instead of words
  --allow mA   largest draw accepted while parked (default: ${DEFAULT_OPTIONS.allowance_mA})
  --step mA    smallest lasting change of level (default: ${DEFAULT_OPTIONS.step_mA})
  --hold S     shortest hold of a level, seconds (default: ${DEFAULT_OPTIONS.hold_s})
  --rise mA    smallest wake-up (default: ${DEFAULT_OPTIONS.rise_mA})
  --original   currents as the board had them, without a later calibration`,
  options: {
    json: { type: 'boolean' },
    allow: { type: 'string' },
    step: { type: 'string' },
    hold: { type: 'string' },
    rise: { type: 'string' },
    original: { type: 'boolean' },
  },
  positionals: 1,
  async run(values, positionals) {
    const options = readOptions(values);
    const { trace } = await openTrace(positionals[0]!, { original: values['original'] === true });
    const findings = analyse(trace, options);
    console.log(values['json'] === true ? JSON.stringify(findings, null, 2) : inWords(findings));
    return 0;
  },
};

function readOptions(values: OptionValues): AnalysisOptions {
  return {
    allowance_mA: optionalNumber(values, 'allow', 0.1, 100_000, 'mA') ?? DEFAULT_OPTIONS.allowance_mA,
    step_mA: optionalNumber(values, 'step', 0.001, 1_000_000, 'mA') ?? DEFAULT_OPTIONS.step_mA,
    hold_s: optionalNumber(values, 'hold', 0.001, 86_400, 's') ?? DEFAULT_OPTIONS.hold_s,
    rise_mA: optionalNumber(values, 'rise', 0.001, 1_000_000, 'mA') ?? DEFAULT_OPTIONS.rise_mA,
  };
}

function inWords(findings: Findings): string {
  const start_ms = findings.trace.start === null ? null : Date.parse(findings.trace.start);
  const at = (t_s: number) => clock(t_s, start_ms);
  const lines = [findings.verdict.sentence, ''];
  list(lines, 'Steps', findings.steps, (s) => `${at(s.t_s)}  ${mA(s.from_mA)} -> ${mA(s.to_mA)}`);
  list(lines, 'Wake-ups', findings.wakeups, (w) => event(w, at));
  list(lines, 'Dips', findings.dips, (w) => event(w, at));
  for (const f of findings.families) {
    const every = f.period_s === null ? 'at no fixed period' : `every ${length(f.period_s)}`;
    lines.push(`Family ${f.id}: ${f.count} times, ${every}, ${length(f.duration_s)} and ${mAh(f.charge_mAh)} each`);
  }
  const c = findings.charge;
  lines.push(
    `Charge: ${mAh(c.total_mAh)} in ${length(findings.trace.duration_s)} = ` +
      `going to sleep ${mAh(c.going_to_sleep_mAh)} + asleep ${mAh(c.asleep_mAh)} + wake-ups ${mAh(c.wakeups_mAh)}` +
      (c.gaps_mAh === null ? '' : ` + gaps ${mAh(c.gaps_mAh)}`),
  );
  for (const gap of findings.trace.gaps) lines.push(`Gap: ${at(gap.start_s)} to ${at(gap.end_s)}`);
  return lines.join('\n');
}

function list<T>(lines: string[], title: string, items: readonly T[], tell: (item: T) => string): void {
  if (items.length === 0) return;
  lines.push(`${title}: ${items.length}`);
  for (const item of items.slice(0, LISTED_MAX)) lines.push(`  ${tell(item)}`);
  if (items.length > LISTED_MAX) lines.push(`  and ${items.length - LISTED_MAX} more; --json has them all`);
}

function event(w: WakeUp, at: (t_s: number) => string): string {
  const family = w.family === null ? '' : `  family ${w.family}`;
  return `${at(w.start_s)}  ${length(w.end_s - w.start_s)}, peak ${mA(w.peak_mA)}, ${mAh(w.charge_mAh)}${family}`;
}

/** Wall-clock time where the trace has one, else hours, minutes and seconds from the start. */
function clock(t_s: number, start_ms: number | null): string {
  if (start_ms !== null) return new Date(start_ms + t_s * 1000).toLocaleTimeString('en-GB');
  const whole = Math.round(t_s);
  const two = (n: number) => String(n).padStart(2, '0');
  return `${Math.floor(whole / 3600)}:${two(Math.floor(whole / 60) % 60)}:${two(whole % 60)}`;
}

/** A length of time in the unit that reads best. */
function length(seconds: number): string {
  if (seconds < 1) return `${Math.round(seconds * 1000)} ms`;
  if (seconds < 120) return `${Number(seconds.toPrecision(3))} s`;
  if (seconds < 7200) return `${Number((seconds / 60).toPrecision(3))} min`;
  return `${Number((seconds / 3600).toPrecision(3))} h`;
}

function mA(value: number): string {
  return Math.abs(value) >= 10_000 ? `${(value / 1000).toFixed(2)} A` : `${value.toFixed(1)} mA`;
}

function mAh(value: number): string {
  return `${value.toFixed(Math.abs(value) < 1 ? 3 : 1)} mAh`;
}
