// What the report says of the work in the bay and of the repair, in words and rows.

import { current } from '../say/quantities.ts';
import { timeWords } from '../say/times.ts';
import type { BayResults, TestResult } from '../bay/work/results.ts';
import { printable, printed } from './printable.ts';
import type { Table } from './source.ts';

export interface BayContent {
  said: string[];
  parts: Table;
  tests: Table;
  /** Null where no voltage was read with everything in its place. */
  drops: Table | null;
  evidence: Table | null;
}

export interface Tick {
  text: string;
  ticked: boolean;
}

const TESTS_MAX = 12;
const DROPS_MAX = 8;
const EVIDENCE_MAX = 5;
/** Longest of a name in a column, and of what was seen. */
const NAME_MAX = 44;
const SEEN_MAX = 90;

/** @param start of the recording of the work, ISO 8601; null without a clock */
export function bayContentOf(bay: BayResults, start: string | null): BayContent {
  const at = timeWords(start === null ? null : Date.parse(start)).minutes;
  return {
    said: [
      bay.sum?.sentence ?? '',
      bay.proof === null ? '' : `Proof load at ${at(bay.proof.t_s)}: ${bay.proof.sentence}`,
    ]
      .filter((text) => text !== '')
      .map(printed),
    parts: {
      head: ['', 'part', 'draws', 'fed by way of'],
      note: bay.parts.length === 0 ? 'No part is named.' : '',
      rows: bay.parts.map((one) => [
        one.code,
        cut(one.name),
        `${current(one.amount_mA)}${one.doubt_mA === null ? '' : ` ± ${one.doubt_mA.toFixed(0)}`}`,
        cut(one.way, SEEN_MAX),
      ]),
    },
    tests: testsOf(bay.tests, at),
    drops: dropsOf(bay),
    evidence:
      bay.evidence.length === 0
        ? null
        : {
            head: ['against', 'what', 'kind', 'odds', 'said by', 'when'],
            rows: bay.evidence
              .slice(0, EVIDENCE_MAX)
              .map((one) => [
                cut(one.name),
                cut(one.text, SEEN_MAX),
                one.kind,
                one.oddsInWords,
                cut(one.source),
                one.at === null ? '' : dayAndTime(one.at),
              ]),
            note:
              bay.evidence.length > EVIDENCE_MAX
                ? more(bay.evidence.length - EVIDENCE_MAX)
                : 'Evidence shifts the order of the search; it names nothing by itself.',
          },
  };
}

/** Typed text on one line of a table. */
function cut(text: string, most = NAME_MAX): string {
  const letters = [...printable(text)];
  return letters.length <= most ? letters.join('') : `${letters.slice(0, most - 1).join('')}…`;
}

const more = (left: number) => `and ${left} more; 'nightdraw analyse' lists them`;

/** Where there are too many, those that changed nothing are left out first, then the oldest. */
function testsOf(all: readonly TestResult[], at: (t_s: number) => string): Table {
  const telling = all.length <= TESTS_MAX ? all : all.filter((one) => one.says !== 'nothing');
  const shown = telling.slice(-TESTS_MAX);
  return {
    head: ['when', 'what', 'mV', 'mA', ''],
    rows: shown.map((one) => [
      at(one.t_s),
      cut(`${one.how} ${one.name}`),
      one.drop_mV === null ? '' : String(one.drop_mV),
      `${one.amount_mA.toFixed(0)} ± ${one.doubt_mA.toFixed(0)}`,
      one.how === 'measured' ? '' : one.says,
    ]),
    note:
      all.length > shown.length
        ? more(all.length - shown.length)
        : all.length === 0
          ? 'Nothing was pulled or read yet.'
          : '',
  };
}

function dropsOf({ drops }: BayResults): Table | null {
  if (drops === null) return null;
  const rows = [...drops.rows].sort((a, b) => (b.reading?.current_mA ?? 0) - (a.reading?.current_mA ?? 0));
  return {
    head: ['across', 'mV', 'mA', 'between', 'resistance'],
    rows: rows
      .slice(0, DROPS_MAX)
      .map(({ name, drop_mV, reading }) => [
        cut(name),
        String(drop_mV),
        reading === null ? 'not known' : reading.current_mA.toFixed(0),
        reading === null ? '' : `${reading.low_mA.toFixed(0)} and ${reading.high_mA.toFixed(0)}`,
        reading?.source ?? '',
      ]),
    note: printed(
      [drops.sentence, rows.length > DROPS_MAX ? more(rows.length - DROPS_MAX) : '']
        .filter((text) => text !== '')
        .join(' '),
    ),
  };
}

function dayAndTime(iso: string): string {
  const { date, minutes } = timeWords(Date.parse(iso));
  return `${date(0)}, ${minutes(0)}`;
}
