// The one parser of the board's lines (firmware/PROTOCOL.md). Pure and strict: a
// line is believed whole or not at all, and what is wrong with it is a value.
// It runs for every line of the night, so it reads character codes, once.

import type {
  ChipLimits,
  Hello,
  RawReading,
  Reading,
  StatusReading,
  VoltageReading,
  WindowReading,
} from '../contract/capture.ts';
import { crc32OfText } from './crc32.ts';
import { parseHello, parseLimits } from './hello.ts';

/** A line that is not believed. `line` is what came, without its LF. */
export interface Bad {
  kind: 'bad';
  reason: string;
  line: string;
}

/** `A`: the command of that tag is done; its value where it has one. */
export interface Answer {
  kind: 'answer';
  tag: number;
  value: number | null;
  /** A replay's second number: so many windows follow, from `value` on. */
  count?: number;
}

/** `E`: the command of that tag was not done. */
export interface Refusal {
  kind: 'refusal';
  tag: number;
  reason: string;
}

export type Line = Reading | ChipLimits | Hello | Answer | Refusal | Bad;

/** Longest line without its LF. */
export const LINE_CHARS_MAX = 239;

/** Space and check code at the end of each line. */
const CHECK_CHARS = 9;

const SPACE = 32;
const INT32_MIN = -(2 ** 31);
const INT32_MAX = 2 ** 31 - 1;
const UINT32_MAX = 2 ** 32 - 1;
const TAG_MAX = 0xffff;
const FLAGS_MAX = 0x3f;
const RAW_FLAGS_MAX = 0xf;
/** 22 bits: a wide reading is four narrow ones. */
const UNITS_MAX = 2 ** 21;

/**
 * Checks and reads one line.
 * @param line without its LF; bytes as characters 0 to FFh
 */
export function parseLine(line: string): Line {
  const body = line.length - CHECK_CHARS;
  if (line.length > LINE_CHARS_MAX) return bad(line, `over ${LINE_CHARS_MAX + 1} bytes long`);
  if (body < 1 || line.charCodeAt(body) !== SPACE) return bad(line, 'no check code');
  const crc = crc32OfText(line, body + 1);
  if (crc < 0) return bad(line, 'a byte is not printable');
  if (writtenCheck(line, body + 1) !== crc) return bad(line, 'wrong check code');
  if (body > 1 && line.charCodeAt(1) !== SPACE) return bad(line, 'not a line of the protocol');
  const fields = new Fields(line, body);
  switch (line.charCodeAt(0)) {
    case 0x57:
      return window(fields, line);
    case 0x56:
      return voltage(fields, line);
    case 0x53:
      return status(fields, line);
    case 0x52:
      return raw(fields, line);
    case 0x4c:
      return parseLimits(line.slice(0, body)) ?? bad(line, 'limits that are not complete');
    case 0x48:
      return parseHello(line.slice(0, body)) ?? bad(line, 'a hello that is not complete');
    case 0x41:
      return answer(fields, line);
    case 0x45:
      return refusal(fields, line);
    default:
      return bad(line, 'unknown type of line');
  }
}

function bad(line: string, reason: string): Bad {
  return { kind: 'bad', reason, line };
}

/** Value of eight capital hex digits from `at` on, or NaN. */
function writtenCheck(line: string, at: number): number {
  let value = 0;
  for (let i = at; i < at + 8; i++) {
    const c = line.charCodeAt(i);
    const digit = c >= 48 && c <= 57 ? c - 48 : c >= 65 && c <= 70 ? c - 55 : NaN;
    value = value * 16 + digit;
  }
  return value;
}

/**
 * The fields behind a line's first letter, one after the other. The first wrong
 * one makes `wrong` true and every further one 0, so that a reader asks once at its end.
 */
class Fields {
  private at = 1;
  wrong = false;

  /** @param end index behind the last field */
  constructor(
    private readonly line: string,
    private readonly end: number,
  ) {}

  /** Whether every field has been read and none was wrong. */
  get complete(): boolean {
    return !this.wrong && this.at === this.end;
  }

  get atEnd(): boolean {
    return this.at === this.end;
  }

  private fail(): number {
    this.wrong = true;
    return 0;
  }

  /** The next field: a whole number in canonical hex within [min, max]. */
  number(min: number, max: number): number {
    const { line, end } = this;
    let p = this.at;
    if (p >= end || line.charCodeAt(p) !== SPACE) return this.fail();
    p++;
    const negative = line.charCodeAt(p) === 45;
    if (negative) p++;
    const first = p;
    let value = 0;
    for (; p < end; p++) {
      const c = line.charCodeAt(p);
      if (c >= 48 && c <= 57) value = value * 16 + (c - 48);
      else if (c >= 97 && c <= 102) value = value * 16 + (c - 87);
      else break;
    }
    const digits = p - first;
    const leadingZero = digits > 1 && line.charCodeAt(first) === 48;
    if (digits === 0 || digits > 14 || leadingZero || (negative && value === 0)) return this.fail();
    if (p < end && line.charCodeAt(p) !== SPACE) return this.fail();
    if (negative) value = -value;
    if (!(value >= min && value <= max)) return this.fail();
    this.at = p;
    return value;
  }

  /** Whether the next field is a lone `-`; takes it if so. */
  none(): boolean {
    const { line, at } = this;
    const lone =
      at + 1 < this.end &&
      line.charCodeAt(at) === SPACE &&
      line.charCodeAt(at + 1) === 45 &&
      line.charCodeAt(at + 2) === SPACE;
    if (lone) this.at += 2;
    return lone;
  }

  /** The next field: a word of a-z 0-9 . - */
  word(): string {
    const { line, end } = this;
    const first = this.at + 1;
    if (first >= end || line.charCodeAt(this.at) !== SPACE) return (this.fail(), '');
    let p = first;
    for (; p < end && line.charCodeAt(p) !== SPACE; p++) {
      const c = line.charCodeAt(p);
      if (!((c >= 97 && c <= 122) || (c >= 48 && c <= 57) || c === 45 || c === 46)) return (this.fail(), '');
    }
    if (p === first) return (this.fail(), '');
    this.at = p;
    return line.slice(first, p);
  }
}

function window(f: Fields, line: string): WindowReading | Bad {
  const reading: WindowReading = {
    kind: 'window',
    seq: f.number(0, UINT32_MAX),
    t_us: f.number(0, Number.MAX_SAFE_INTEGER),
    dur_us: f.number(1, UINT32_MAX),
    count: f.number(1, UINT32_MAX),
    mean_uA: f.number(INT32_MIN, INT32_MAX),
    min_uA: f.number(INT32_MIN, INT32_MAX),
    max_uA: f.number(INT32_MIN, INT32_MAX),
    charge_nC: f.number(-Number.MAX_SAFE_INTEGER, Number.MAX_SAFE_INTEGER),
    flags: f.number(0, FLAGS_MAX),
  };
  if (!f.complete) return bad(line, 'a window with a field that is wrong, missing or too many');
  if (reading.dur_us > reading.t_us) return bad(line, 'a window from before the boot');
  if (reading.min_uA > reading.mean_uA || reading.mean_uA > reading.max_uA)
    return bad(line, 'a mean outside minimum and maximum');
  return reading;
}

function voltage(f: Fields, line: string): VoltageReading | Bad {
  const reading: VoltageReading = {
    kind: 'voltage',
    seq: f.number(0, UINT32_MAX),
    t_us: f.number(0, Number.MAX_SAFE_INTEGER),
    bus_mV: f.number(INT32_MIN, INT32_MAX),
    temp_mC: f.none() ? NaN : f.number(INT32_MIN, INT32_MAX),
    dropped: f.number(0, UINT32_MAX),
  };
  return f.complete ? reading : bad(line, 'a voltage with a field that is wrong, missing or too many');
}

function status(f: Fields, line: string): StatusReading | Bad {
  const reading: StatusReading = {
    kind: 'status',
    seq: f.number(0, UINT32_MAX),
    t_us: f.number(0, Number.MAX_SAFE_INTEGER),
    code: f.word(),
    detail: f.number(-Number.MAX_SAFE_INTEGER, Number.MAX_SAFE_INTEGER),
  };
  return f.complete ? reading : bad(line, 'a status with a field that is wrong, missing or too many');
}

function raw(f: Fields, line: string): RawReading | Bad {
  const seq = f.number(0, UINT32_MAX);
  const samples: RawReading['samples'] = [];
  let t_us = f.number(0, Number.MAX_SAFE_INTEGER);
  for (let first = true; !f.wrong && (first || !f.atEnd); first = false) {
    if (!first) t_us += f.number(1, 0xffff);
    samples.push({ t_us, units: f.number(-UNITS_MAX, UNITS_MAX), flags: f.number(0, RAW_FLAGS_MAX) });
  }
  return f.complete
    ? { kind: 'raw', seq, t_us, samples }
    : bad(line, 'a raw line with a field that is wrong, missing or too many');
}

function answer(f: Fields, line: string): Answer | Bad {
  const tag = f.number(0, TAG_MAX);
  const value = f.wrong || f.atEnd ? null : f.number(-Number.MAX_SAFE_INTEGER, Number.MAX_SAFE_INTEGER);
  const count = f.wrong || f.atEnd ? null : f.number(0, 0xffff);
  const replay = count === null ? {} : { count };
  return f.complete
    ? { kind: 'answer', tag, value, ...replay }
    : bad(line, 'an answer with a field that is wrong or too many');
}

function refusal(f: Fields, line: string): Refusal | Bad {
  const tag = f.number(0, TAG_MAX);
  const reason = f.word();
  return f.complete
    ? { kind: 'refusal', tag, reason }
    : bad(line, 'a refusal with a field that is wrong, missing or too many');
}
