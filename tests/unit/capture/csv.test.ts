// Other meters' CSV: what is read, to the last bit, and what is refused, with its line.
import fc from 'fast-check';
import { existsSync, mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import { CsvRows } from '../../../host/capture/exchange/csv-rows.ts';
import { importCsv, readCsv } from '../../../host/capture/exchange/csv.ts';
import { parseNumber, parseTime } from '../../../host/capture/exchange/csv-values.ts';
import { openTrace } from '../../../host/night/open.ts';
import type { Trace } from '../../../host/contract/capture.ts';

const folder = mkdtempSync(join(tmpdir(), 'nightdraw-csv-'));
afterAll(() => rmSync(folder, { recursive: true }));
let files = 0;

function file(content: string | Buffer): string {
  const path = join(folder, `file${files++}`);
  writeFileSync(path, content);
  return path;
}

const read = (content: string | Buffer) => readCsv(file(content));
const times = (trace: Trace) => (trace.time.kind === 'listed' ? [...trace.time.t_s] : []);

describe('columns', () => {
  test('seconds and milliamperes', async () => {
    const { trace, voltage } = await read('t_s,current_mA\n0,10.25\n0.5,-3\n2,1e1\n');
    expect(trace).toMatchObject({ kind: 'points', start_ms: null, dur_s: null, min_mA: null, max_mA: null, gaps: [] });
    expect(times(trace)).toEqual([0, 0.5, 2]);
    expect([...trace.mean_mA]).toEqual([10.25, -3, 10]);
    expect(voltage).toBeNull();
  });

  test.each([
    ['current_A', '0.0123', 12.3],
    ['current_uA', '12300', 12.3],
    ['current_uA', '1', 0.001],
    ['current_A', '2.999e-3', 2.999],
    ['CURRENT_MA', '7', 7],
  ])('%s %s is %d mA, exactly', async (name, text, mA) => {
    expect((await read(`t_s,${name}\n0,${text}\n`)).trace.mean_mA[0]).toBe(mA);
  });

  test('minimum, maximum and voltage, other columns skipped, any order, blank cells', async () => {
    const { trace, voltage } = await read(
      'note,max_A,voltage_mV,current_mA,t_s,min_current_uA\nx,0.02,12600,10,1,5000\n,0.03,,11,2,\n,,12500,12,3,7000\n',
    );
    expect([...trace.max_mA!]).toEqual([20, 30, NaN]);
    expect([...trace.min_mA!]).toEqual([5, NaN, 7]);
    expect([...voltage!.voltage_V]).toEqual([12.6, 12.5]);
    expect([...voltage!.t_s]).toEqual([0, 2]);
    expect(times(trace)).toEqual([0, 1, 2]);
  });

  test.each([';', '\t'])('delimiter %j with decimal commas and points', async (d) => {
    const { trace } = await read(`t_s${d}current_mA\n0${d}10,5\n0,25${d}11.5\n`);
    expect(times(trace)).toEqual([0, 0.25]);
    expect([...trace.mean_mA]).toEqual([10.5, 11.5]);
  });

  test('byte order mark, CRLF, quotes, blank lines, blanks, lines above the header, no last line end', async () => {
    const { trace } = await read(
      '\ufeffmeter 7; "spare"\r\n\r\n"t_s" , "current_mA"\r\n"0","10"\r\n  \r\n 1 ,\t11 \r\n"2","1""2"'.replace(
        '1""2',
        '12',
      ),
    );
    expect([...trace.mean_mA]).toEqual([10, 11, 12]);
  });

  test('ISO 8601 times: zone, fraction, basic form; the first is the start', async () => {
    const { trace } = await read(
      'time,current_mA\n2031-05-04T23:59:59.5+02:00,1\n20310504T215959,750Z,2\n'.replace(',750', '.750') +
        '2031-05-04 22:00:00.0000005Z,3\n',
    );
    expect(trace.start_ms).toBe(Date.UTC(2031, 4, 4, 21, 59, 59, 500));
    expect(times(trace)).toEqual([0, 0.25, 0.5000005]);
  });

  test('both time columns: t_s measures, time says when it began', async () => {
    const { trace } = await read('time,t_s,current_mA\n2031-05-04T22:00:00Z,5,1\n2031-05-04T22:00:03Z,6,2\n');
    expect(trace.start_ms).toBe(Date.UTC(2031, 4, 4, 22));
    expect(times(trace)).toEqual([0, 1]);
  });

  test('a time without zone takes the zone of the first row throughout: winter time bends nothing', () => {
    const t_s: number[] = [];
    const rows = new CsvRows(
      'x',
      (p) => t_s.push(...p.t_s),
      (s) => (s < Date.UTC(2031, 9, 26, 3) / 1000 ? 120 : 60),
    );
    rows.feed(Buffer.from('time,current_mA\n2031-10-26T02:59:59,1\n2031-10-26T03:00:01,2\n'));
    rows.end();
    expect(t_s).toEqual([0, 2]);
    expect(rows.start_ms).toBe(Date.UTC(2031, 9, 26, 0, 59, 59));
  });

  /** Summer time from 29 March to 25 October 2037, an hour ahead, changed at 01:00 UTC. */
  const summer = (s: number) => {
    const [spring, autumn] = [Date.UTC(2037, 2, 29, 2) / 1000, Date.UTC(2037, 9, 25, 3) / 1000];
    return s >= spring && s < autumn ? 120 : 60;
  };
  const timesIn = (zone: (s: number) => number, ...stamps: string[]) => {
    const t_s: number[] = [];
    const rows = new CsvRows('x', (p) => t_s.push(...p.t_s), zone);
    rows.feed(Buffer.from(['time,current_mA', ...stamps.map((at) => `${at},1`), ''].join('\n')));
    rows.end();
    return t_s;
  };

  test('times without zone whose clock was put back for winter time, or forward, go on', () => {
    const [before, after] = ['2037-10-25T02:59:58', '2037-10-25T02:00:00'];
    expect(timesIn(summer, '2037-10-25T02:59:57', before, after, '2037-10-25T02:00:01', '2037-10-25T04:00:00')).toEqual(
      [0, 1, 3, 4, 7203],
    );
    expect(timesIn(summer, '2037-03-29T01:59:59', '2037-03-29T03:00:00', '2037-03-29T03:00:01')).toEqual([0, 1, 2]);
    // A meter that keeps winter time all year, and an hour without readings on another day.
    expect(timesIn(summer, '2037-03-29T01:59:59', '2037-03-29T02:00:00', '2037-03-29T03:00:00')).toEqual([0, 1, 3601]);
    expect(timesIn(summer, '2037-03-28T01:59:59', '2037-03-28T03:00:00')).toEqual([0, 3601]);
    expect(timesIn(summer, '2037-03-29T01:59:59', '2037-03-29T03:30:00')).toEqual([0, 5401]);
    // A zone that knows no summer time cannot tell, and the line says what it looks like.
    expect(() => timesIn(() => 60, before, after)).toThrow(
      /times must ascend; if the clock was put back an hour for winter time, write each time with its offset/,
    );
    expect(() => timesIn(summer, '2037-10-25T02:59:58', '2037-10-25T02:59:57')).toThrow(/times must ascend$/);
  });

  test('a spacing of more than five medians and 2 s is a gap', async () => {
    const { trace } = await read('t_s,current_mA\n0,1\n1,1\n2,1\n6.9,1\n8,1\n13.2,1\n14,1\n');
    // The median spacing is 1.1 s: neither 4.9 s nor 5.2 s is more than five times that.
    expect(trace.gaps).toEqual([]);
    const wide = await read('t_s,current_mA\n0,1\n1,1\n2,1\n8,1\n9,1\n');
    expect(wide.trace.gaps).toEqual([{ start_s: 2, end_s: 8, charge_mAh: null }]);
  });
});

describe('refusals name the line and what was expected', () => {
  test.each([
    ['t_s,current_mA\n0,1\n1,abc\n', /line 3 of .* has 'abc' as current_mA, expected a number/],
    ['t_s,current_mA\n0,1\n1\n', /line 3 of .* has 1 field, expected 2/],
    ['t_s,current_mA\n0,1\n1,\n', /line 3 of .* has '' as current_mA/],
    ['t_s,current_mA\n0,1\n0,5,10,2\n', /line 3 of .* has 4 fields, expected 2 .*semicolons or tabs/],
    ['t_s,current_mA\n0,1\n0,2\n', /line 3 of .* times must ascend/],
    ['t_s,current_mA\n5,1\n\n4,2\n', /line 4 of .* has t_s '4'.* times must ascend/],
    ['time,current_mA\n2031-02-30T00:00:00Z,1\n', /line 2 of .* expected an ISO 8601 time/],
    ['time,current_mA\n22:15,1\n', /line 2 of .* expected an ISO 8601 time/],
    ['t_s,current_mA\n0,"1\n', /line 2 of .* opens a quote/],
    ['t_s,current_mA\n0,1e999\n', /line 2 of .* expected a number/],
    [
      't_s,current_mA\n0,1e300\n',
      /line 2 of .* has '1e300' as current_mA, which no meter at a car can mean; see its unit/,
    ],
    ['t_s,current_A\n0,1\n1,-2e6\n', /line 3 of .* has '-2e6' as current_A, which no meter/],
    ['t_s,current_mA\n1800000000000,1\n', /line 2 of .* has '1800000000000' as t_s, which no meter/],
    ['t_s,current_mA,voltage_V\n0,1,12600\n', /line 2 of .* has '12600' as voltage_V, which no meter/],
    ['t_s,current_mA\n0,NaN\n', /line 2 of .* expected a number/],
    ['t_s,current_mA\n0,1\n1,2 3\n', /line 3 of .* expected a number/],
    ['t_s,current_mA\n', /has a header but not one sample/],
    ['t_s,power_W\n0,1\n', /line 1 of .* has no column current_mA/],
    ['current_mA\n1\n', /line 1 of .* has no column t_s or time/],
    ['t_s,current_mA,current_A\n0,1,1\n', /current_mA and current_A both mean the same/],
    [
      'Dear reader,\nthis is a letter.\n',
      /has no known column: expected a header line with t_s or time, .*begins with 'Dear reader,'/,
    ],
    ['\n\n', /nothing but blank lines/],
    ['', /is empty/],
    [Buffer.from([0x7f, 0x45, 0x4c, 0x46, 0, 1, 2]), /neither a capture nor a CSV/],
  ])('%j', async (content, message) => {
    const path = file(content);
    const error = await readCsv(path).then(
      () => null,
      (e: Error) => e,
    );
    expect(error?.message).toMatch(message);
    expect(error?.message).not.toContain('\n');
    const out = join(folder, 'never');
    await expect(importCsv(path, out, { software: 'test', created_ms: 0, job: null })).rejects.toThrow(message);
    expect(readdirSync(folder).filter((name) => name.startsWith('never'))).toEqual([]);
  });

  test('a file that is not there, and a folder', async () => {
    await expect(readCsv(join(folder, 'nowhere'))).rejects.toThrow(/does not exist/);
    await expect(readCsv(folder)).rejects.toThrow(/is a folder/);
  });
});

describe('numbers', () => {
  const parse = (text: string, shift = 0) => parseNumber(Buffer.from(text), 0, text.length, shift, true);

  test('every double comes back from its text', () => {
    fc.assert(
      fc.property(fc.double({ noNaN: true, noDefaultInfinity: true }), (value) =>
        Object.is(parse(String(value)), Number(String(value))),
      ),
      { numRuns: 3000 },
    );
  });

  test('a changed unit is the double nearest to the printed decimal', () => {
    fc.assert(
      fc.property(fc.integer({ min: -1e12, max: 1e12 }), fc.nat(12), fc.constantFrom(3, -3), (m, places, shift) => {
        const text = `${m}e-${places}`;
        expect(parse(text, shift)).toBe(Number(`${m}e${shift - places}`));
      }),
    );
  });

  test('digits as meters print them are the nearest double, in rows that may be cut anywhere', () => {
    const printed = fc
      .tuple(fc.constantFrom('', '-'), fc.bigInt({ min: 0n, max: 99_999_999n }), fc.stringMatching(/^(\.[0-9]{0,8})?$/))
      .map(([sign, whole, fraction]) => `${sign}${whole}${fraction}`);
    fc.assert(
      fc.property(fc.array(printed, { minLength: 1, maxLength: 20 }), fc.nat(), (values, at) => {
        const text = Buffer.from(`t_s,current_mA\n${values.map((value, i) => `${i},${value}\n`).join('')}`);
        const got: number[] = [];
        const rows = new CsvRows(
          'x',
          (p) => got.push(...p.current_mA),
          () => 0,
        );
        rows.feed(text.subarray(0, at % text.length));
        rows.feed(text.subarray(at % text.length));
        rows.end();
        expect(got).toEqual(values.map(Number));
      }),
      { numRuns: 500 },
    );
  });

  test.each(['', '-', '.', ',', '1..2', '1,2,3', '1.2,3', '1e', '1e+', 'e5', '0x10', 'Infinity', '1_000', '--1', '1-'])(
    '%j is no number',
    (text) => expect(parse(text)).toBeNaN(),
  );
  test.each([
    ['.5', 0.5],
    ['5.', 5],
    ['+1', 1],
    ['1,5', 1.5],
    ['  7\t', 7],
    ['1E3', 1000],
    ['12345678901234567890', 12345678901234567890],
  ])('%j is %d', (text, value) => expect(parse(text)).toBe(value));
});

describe('times', () => {
  const utc = () => 0;
  test.each([
    '2031-05-04',
    '2031-13-01T00:00Z',
    '2031-05-04T24:00Z',
    '2031-05-04T10:60Z',
    '1931-5-4T10:00Z',
    'T10:00',
    '2031-05-04T10:00:00+0',
  ])('%s is none', (text) => expect(parseTime(text, utc)).toBeNull());
  // ISO 8601-1:2019 writes the same moment in these forms (the examples are ours).
  test.each([
    '2031-05-04T10:00:00Z',
    '2031-05-04T12:00:00+02',
    '2031-05-04T12:00+02:00',
    '20310504T100000Z',
    '2031-05-04T05:30:00-04:30',
    '2031-05-04 10:00:00,000Z',
  ])('%s', (text) => expect(parseTime(text, utc)).toEqual({ seconds: Date.UTC(2031, 4, 4, 10) / 1000, nanos: 0 }));
});

describe('import', () => {
  test('a capture holds the same to the last bit, and says where it is from', async () => {
    const rows = Array.from(
      { length: 20_000 },
      (_, i) => `${(i * 0.1).toFixed(1)},${(Math.sin(i) * 1000).toPrecision(9)},${i % 3 === 0 ? '' : 12 + i / 1e5}`,
    );
    const csv = file(`t_s,current_uA,voltage_V\n${rows.join('\n')}\n`);
    const out = join(folder, 'imported');
    expect(await importCsv(csv, out, { software: 'test 1', created_ms: 5, job: 'bay 2' })).toEqual({ samples: 20_000 });
    const direct = await openTrace(csv);
    const opened = await openTrace(out);
    expect(opened.trace).toEqual(direct.trace);
    expect(opened.voltage).toEqual(direct.voltage);
    expect(opened.info).toMatchObject({
      kind: 'imported',
      state: 'finished',
      job: 'bay 2',
      software: 'test 1',
      samples: 20_000,
      duration_s: 1999.9,
      start_ms: null,
    });
    await expect(importCsv(csv, out, { software: 'test 1', created_ms: 5, job: null })).rejects.toThrow(
      /exists already/,
    );
    expect(existsSync(`${out}-wal`)).toBe(false);
  });

  test('the start of a CSV with times is kept', async () => {
    const csv = file('time;t_s;current_mA\n2031-05-04T22:00:00Z;100;1\n2031-05-04T22:00:01Z;101;2\n');
    const out = join(folder, 'started');
    await importCsv(csv, out, { software: 'test', created_ms: 0, job: null });
    const { trace, info } = await openTrace(out);
    expect(trace.start_ms).toBe(Date.UTC(2031, 4, 4, 22));
    expect(info?.start_ms).toBe(Date.UTC(2031, 4, 4, 22));
  });

  test('chunks may end anywhere', () => {
    const text = Buffer.from('\ufefft_s;current_mA\r\n0;1,5\r\n1;"2,5"\r\n2;3,5');
    for (let cut = 0; cut <= text.length; cut++) {
      const got: number[] = [];
      const rows = new CsvRows(
        'x',
        (p) => got.push(...p.current_mA),
        () => 0,
      );
      rows.feed(text.subarray(0, cut));
      rows.feed(text.subarray(cut));
      rows.end();
      expect(got).toEqual([1.5, 2.5, 3.5]);
    }
  });
});
