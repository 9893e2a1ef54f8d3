// What stands in the report, in words and rows, before anybody thinks of a page: every
// format is made of this. Pure; texts that somebody typed are made printable here.

import type { NightMeaning } from '../analysis/meaning/interpret.ts';
import type { BillLine } from '../analysis/meaning/meaning.ts';
import { charge, clockOf, count, current, time } from '../analysis/meaning/words.ts';
import type { CaptureInfo, Personal } from '../capture/types.ts';
import { conditionsOf } from './conditions.ts';

export interface ReportSource {
  night: NightMeaning;
  /** Null for a CSV. */
  info: CaptureInfo | null;
  /** Empty unless the person at the keyboard asked for it. */
  personal: Personal;
  workshop: string | null;
  /** PNG or SVG as a data address; null without one. */
  logo: { href: string; ratio: number } | null;
  /** The name of the file that was read, without its folder. */
  fileName: string;
}

export interface Table {
  head: string[];
  rows: string[][];
  /** What stands below, such as how many rows are left out. */
  note: string;
}

export interface Content {
  workshop: string;
  logo: ReportSource['logo'];
  job: string;
  when: string;
  verdict: string;
  next: string;
  bill: Table;
  wakeups: Table;
  battery: string[];
  warnings: string[];
  conditions: [label: string, value: string][];
  cautions: string[];
}

/** Longest of a typed text that one page has room for. */
const TYPED_MAX = 160;
const SENTENCE_MAX = 600;
const WAKES_MAX = 6;
const WARNINGS_MAX = 4;
const BILL_MAX = 7;

const CAUTIONS = [
  "The car maker's procedure and local codes come before this page.",
  'Bridge first; never crank or switch the ignition on through the board; eye protection; no spark near a battery.',
  'Airbag circuits and high-voltage systems: maker\'s procedure and licensed staff only.',
];

/** Typed text on one line: no control or direction-changing letters, halves of letters, cut where too long. */
export function printable(text: string): string {
  const plain = text.replace(/[\p{Cs}\p{Cc}\p{Zl}\p{Zp}\u200b-\u200f\u202a-\u202e\u2060-\u206f\ufeff\ufffe\uffff]+/gu, ' ').trim();
  const letters = [...plain];
  return letters.length <= TYPED_MAX ? plain : `${letters.slice(0, TYPED_MAX - 1).join('')}…`;
}

export function contentOf(source: ReportSource): Content {
  const { night, info, personal } = source;
  const people = [personal.customer, personal.vehicle, personal.plate].filter((text) => text !== undefined && text !== '');
  const job = [info?.job ?? '', ...people].map((text) => printable(text ?? '')).filter((text) => text !== '').join(' · ');
  const warnings = night.warnings.map((w) => (w.next === night.next ? w.sentence : `${w.sentence} Next: ${w.next}`));
  return {
    workshop: printable(source.workshop ?? ''),
    logo: source.logo,
    job: job === '' ? printable(source.fileName) : job,
    when: whenOf(night),
    verdict: printed(night.verdict.sentence),
    next: printed(night.next),
    bill: billOf(night),
    wakeups: wakeUpsOf(night),
    battery: [night.battery.sentence, ...(night.complaint === null ? [] : [night.complaint.sentence, night.complaint.next])].map(printed),
    warnings: [...warnings.slice(0, WARNINGS_MAX), ...more(warnings.length - WARNINGS_MAX, 'warning')].map(printed),
    conditions: conditionsOf(source).map(([label, value]) => [label, printed(value)]),
    cautions: CAUTIONS,
  };
}

/** Sentences may hold what somebody typed, such as the source of the allowance; they are cut far later. */
function printed(sentence: string): string {
  return sentence.replace(/[\p{Cs}\p{Cc}\u200b-\u200f\u202a-\u202e\u2066-\u2069\ufeff\ufffe\uffff]+/gu, ' ').slice(0, SENTENCE_MAX).replace(/\p{Cs}/gu, '');
}

function more(left: number, what: string): string[] {
  return left > 0 ? [`and ${count(left)} more ${what}${left === 1 ? '' : 's'}; 'nightdraw analyse' lists them`] : [];
}

function whenOf({ trace }: NightMeaning): string {
  if (trace.start === null) return `${time(trace.duration_s)}, no clock time`;
  const start_ms = Date.parse(trace.start);
  const day = new Date(start_ms).toLocaleDateString('en-GB', { weekday: 'short', day: 'numeric', month: 'long', year: 'numeric' });
  const at = clockOf(start_ms);
  return `Night of ${day}, ${at(0)} to ${at(trace.duration_s)}, ${time(trace.duration_s)}`;
}

function billOf({ bill }: NightMeaning): Table {
  const shown = (line: BillLine) => {
    if (line.shown_mAh !== null) return line.shown_mAh.toFixed(bill.decimals);
    return line.estimate_mAh === null ? 'not known' : `${line.estimate_mAh.low.toFixed(bill.decimals)} to ${line.estimate_mAh.high.toFixed(bill.decimals)}?`;
  };
  const perDay = (mAh: number | null) => (mAh === null ? '' : mAh.toFixed(Math.abs(mAh) < 9.95 ? 1 : 0));
  const rows = bill.lines.slice(0, BILL_MAX).map((line) => [line.label, shown(line), line.share_pct === null ? '' : `${line.share_pct} %`, perDay(line.per_day_mAh)]);
  return {
    head: ['', 'mAh', 'share', 'mAh a day'],
    rows: [...rows, ['total', bill.shown_mAh.toFixed(bill.decimals), '', perDay(bill.per_day_mAh)]],
    note: more(bill.lines.length - BILL_MAX, 'line').join(''),
  };
}

function wakeUpsOf({ explanations, families, wakeups, trace }: NightMeaning): Table {
  const at = clockOf(trace.start === null ? null : Date.parse(trace.start));
  const events = explanations.filter((e) => e.about !== 'step');
  const rows = events.slice(0, WAKES_MAX).map((e) => {
    const each_mAh = e.about === 'family' ? families.find((family) => family.id === e.id)?.charge_mAh : wakeups[e.id]?.charge_mAh;
    return [
      e.about === 'family' ? `family ${e.id}, ${count(e.count)}×` : 'single',
      e.count === 1 ? at(e.first_s) : `${at(e.first_s)} to ${at(e.last_s)}`,
      e.period_s === null ? '' : time(e.period_s),
      time(e.shape?.length_s ?? 0), current(e.shape?.peak_mA ?? 0), each_mAh === undefined ? '' : charge(each_mAh),
      e.causes[0]?.what ?? '',
    ];
  });
  return {
    head: ['', 'when', 'every', 'length', 'peak', 'each', 'a healthy car does so for'],
    rows,
    note: wakeups.length === 0 ? 'Nothing woke the car.' : more(events.length - WAKES_MAX, 'kind').join(''),
  };
}
