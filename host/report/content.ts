// What stands in the report, in words and rows, before anybody thinks of a page: every
// format is made of this. Pure; texts that somebody typed are made printable here.

import { pollingWords } from '../say/polling.ts';
import { charge, count, current, time } from '../say/quantities.ts';
import { timeWords } from '../say/times.ts';
import { BEFORE_PULLING } from '../say/cautions.ts';
import type { ReportSource, Table } from './source.ts';
import type { NightMeaning } from '../analysis/meaning/interpret.ts';
import { BILL_HEAD, billRows } from '../say/bill.ts';
import { repairTable } from '../bay/work/repair.ts';
import { isWorkAlone } from '../bay/work/results.ts';
import type { BayResults } from '../bay/work/results.ts';
import { bayContentOf } from './bay-content.ts';
import type { BayContent, Tick } from './bay-content.ts';
import { conditionsOf } from './conditions.ts';
import { printable, printed } from './printable.ts';

export interface Content {
  workshop: string;
  logo: ReportSource['logo'];
  job: string;
  when: string;
  verdict: string;
  /** What the bay and the repair came to, each with its heading; they stand below the verdict. */
  besides: [label: string, sentence: string][];
  next: string;
  /** Null where the recording is of the work in the bay alone. */
  night: null | { bill: Table; wakeups: Table; battery: string[] };
  bay: BayContent | null;
  repair: null | { table: Table; legend: string };
  closing: Tick[];
  warnings: string[];
  conditions: [label: string, value: string][];
  cautions: string[];
}

const WAKES_MAX = 6;
const WARNINGS_MAX = 4;
const BILL_MAX = 7;

export function contentOf(source: ReportSource): Content {
  const { night, info, personal } = source;
  const people = [personal.customer, personal.vehicle, personal.plate].filter(
    (text) => text !== undefined && text !== '',
  );
  const job = [info?.job ?? '', ...people]
    .map((text) => printable(text ?? ''))
    .filter((text) => text !== '')
    .join(' · ');
  const alone = aloneIn(source);
  const warnings = night.warnings
    .filter((w) => alone === null || w.grave)
    .map((w) => (w.next === night.next ? w.sentence : `${w.sentence} Next: ${w.next}`));
  return {
    ...besidesOf(source),
    workshop: printable(source.workshop ?? ''),
    logo: source.logo,
    job: job === '' ? printable(source.fileName) : job,
    when: whenOf(night, alone === null ? 'Night of' : 'In the bay,'),
    verdict: printed(alone?.sentence ?? night.verdict.sentence),
    next: printed(alone?.next ?? night.next),
    night:
      alone !== null
        ? null
        : {
            bill: billTable(night),
            wakeups: wakeUpsOf(night),
            battery: [
              night.battery.sentence,
              ...(night.complaint === null ? [] : [night.complaint.sentence, night.complaint.next]),
            ].map(printed),
          },
    warnings: [...warnings.slice(0, WARNINGS_MAX), ...more(warnings.length - WARNINGS_MAX, 'warning')].map(printed),
    conditions: conditionsOf(source).map(([label, value]) => [label, printed(value)]),
    cautions: [...BEFORE_PULLING],
  };
}

function more(left: number, what: string): string[] {
  return left > 0 ? [`and ${count(left)} more ${what}${left === 1 ? '' : 's'}; 'nightdraw analyse' lists them`] : [];
}

/** The results where the recording is of the work in the bay alone, so that nothing of it is judged as a night. */
export function aloneIn({ bay, fileName }: ReportSource): BayResults | null {
  return bay !== null && bay.fileName === fileName && isWorkAlone(bay.results) ? bay.results : null;
}

function besidesOf(source: ReportSource): Pick<Content, 'besides' | 'bay' | 'repair' | 'closing'> {
  const { bay, before, fileName } = source;
  const said = aloneIn(source) === null && bay !== null ? [bay.results.sentence] : [];
  const items: Tick[] =
    bay !== null && (bay.results.outcome !== null || bay.results.closing.some((item) => item.ticked))
      ? bay.results.closing
      : before?.result.code === 'proven'
        ? before.closing.map((item) => ({ ...item, ticked: false }))
        : [];
  return {
    besides: [
      ...said.map((text): [string, string] => ['In the bay', printed(text)]),
      ...(before === null ? [] : [['After the repair', printed(before.result.sentence)] satisfies [string, string]]),
    ],
    bay: bay === null ? null : bayContentOf(bay.results, bay.start),
    repair:
      before === null
        ? null
        : {
            table: { head: ['', 'before', 'after'], rows: repairTable(before.result), note: '' },
            legend: printed(
              `Dashed: before (${printable(before.fileName)}). Solid: after (${printable(fileName)}). Both where they fall asleep, and the allowance.`,
            ),
          },
    closing: items.map(({ text, ticked }) => ({ text, ticked })),
  };
}

function whenOf({ trace }: NightMeaning, what: string): string {
  if (trace.start === null) return `${time(trace.duration_s)}, no clock time`;
  const { fullDate, minutes } = timeWords(Date.parse(trace.start));
  return `${what} ${fullDate(0)}, ${minutes(0)} to ${minutes(trace.duration_s)}, ${time(trace.duration_s)}`;
}

function billTable({ bill }: NightMeaning): Table {
  const { rows, total } = billRows(bill);
  return {
    head: [...BILL_HEAD],
    rows: [...rows.slice(0, BILL_MAX), total],
    note: more(rows.length - BILL_MAX, 'line').join(''),
  };
}

function wakeUpsOf({ explanations, families, wakeups, trace }: NightMeaning): Table {
  const at = timeWords(trace.start === null ? null : Date.parse(trace.start)).minutes;
  const events = explanations.filter((e) => e.about !== 'step');
  const rows = events.slice(0, WAKES_MAX).map((e) => {
    const each_mAh =
      e.about === 'family' ? families.find((family) => family.id === e.id)?.charge_mAh : wakeups[e.id]?.charge_mAh;
    return [
      e.about === 'family' ? `family ${e.id}, ${count(e.count)}×` : 'single',
      e.count === 1 ? at(e.first_s) : `${at(e.first_s)} to ${at(e.last_s)}`,
      e.period_s === null ? '' : time(e.period_s),
      time(e.shape?.length_s ?? 0),
      current(e.shape?.peak_mA ?? 0),
      each_mAh === undefined ? '' : charge(each_mAh),
      e.causes[0]?.what ?? '',
    ];
  });
  return {
    head: ['', 'when', 'every', 'length', 'peak', 'each', 'possible normal cause'],
    rows,
    note: [
      ...(wakeups.length === 0 ? ['Nothing woke the car.'] : more(events.length - WAKES_MAX, 'kind')),
      ...pollingWords(families).map((words) => `${words.title}, ${words.more}.`),
    ].join(' '),
  };
}
