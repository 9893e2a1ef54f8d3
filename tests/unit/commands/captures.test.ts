// The commands that change, show and hand on a capture, as they are typed: what they print,
// what the capture holds afterwards, and what they refuse, in one line.
import {
  copyFileSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { openTrace } from '../../../host/night/open.ts';
import { openCapture } from '../../../host/capture/read/reader.ts';
import type { Capture } from '../../../host/capture/read/reader.ts';
import { nightdraw } from '../../in-process.ts';

/** 560 windows of board 7 at some 20 mA, shunt 5 mOhm, 40 s long, with one mark. */
const RECORDED = new URL('../capture/old/format-1.nightdraw', import.meta.url).pathname;
const CSV = 't_s,current_mA,voltage_V\n0,1,12.5\n1,2.25,12.5\n2,-3,12.25\n';

let folder: string, recorded: string, csv: string;
const at = (name: string) => join(folder, name);

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'nightdraw-captures-'));
  copyFileSync(RECORDED, (recorded = at('monday.nightdraw')));
  writeFileSync((csv = at('meter.csv')), CSV);
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

function held<T>(path: string, look: (capture: Capture) => T): T {
  const capture = openCapture(path);
  try {
    return look(capture);
  } finally {
    capture.close();
  }
}

const done = (stdout: string) => ({ status: 0, stdout: `${stdout}\n`, stderr: '' });
const refused = (status: 1 | 2, why: string) => ({ status, stdout: '', stderr: `nightdraw: ${why}\n` });

async function imported(): Promise<string> {
  expect(await nightdraw('import', csv, '--out', at('meter.nightdraw'))).toEqual(
    done(`${at('meter.nightdraw')}: 3 samples`),
  );
  return at('meter.nightdraw');
}

describe('import', () => {
  test('a CSV becomes a capture of the same samples, with its job', async () => {
    const path = at('J-7.nightdraw');
    expect(await nightdraw('import', csv, '--out', path, '--job', 'J-7')).toEqual(done(`${path}: 3 samples`));
    const { trace, voltage, info } = await openTrace(path);
    expect([[...trace.mean_mA], [...voltage!.voltage_V]]).toEqual([
      [1, 2.25, -3],
      [12.5, 12.5, 12.25],
    ]);
    expect(info).toMatchObject({ kind: 'imported', state: 'finished', job: 'J-7', samples: 3, duration_s: 2 });
  });

  test('what is there already is not overwritten', async () => {
    const before = readFileSync(recorded);
    expect(await nightdraw('import', csv, '--out', recorded)).toEqual(
      refused(1, `${recorded} exists already; give another name`),
    );
    expect(readFileSync(recorded).equals(before)).toBe(true);
  });

  test('a capture, a missing file, and no name for the new one are refused and leave nothing', async () => {
    expect(await nightdraw('import', recorded, '--out', at('new'))).toEqual(
      refused(1, `${recorded} is a database, not a CSV`),
    );
    for (const name of ['none.csv', 'none.json', 'none.parquet']) {
      expect(await nightdraw('import', at(name), '--out', at('new'))).toEqual(
        refused(1, `${at(name)} does not exist; check the name`),
      );
    }
    expect(await nightdraw('import', csv)).toEqual(
      refused(2, '--out is missing; for example --out captures/monday.nightdraw'),
    );
    expect(readdirSync(folder).sort()).toEqual(['meter.csv', 'monday.nightdraw']);
  });
});

describe('mark', () => {
  test('sets a mark at its time and leaves those that were there', async () => {
    const before = held(recorded, (capture) => capture.info().marks);
    expect(await nightdraw('mark', recorded, '--at', '0h0m20.5s', '--text', 'driver door opened')).toEqual(
      done(`${recorded}: marked`),
    );
    const after = held(recorded, (capture) => capture.info().marks);
    expect(after).toHaveLength(before.length + 1);
    expect(after).toEqual(expect.arrayContaining([...before, { t_s: 20.5, text: 'driver door opened' }]));
  });

  test('the first sample can be marked too', async () => {
    expect(await nightdraw('mark', recorded, '--at', '0s', '--text', 'clamped on')).toEqual(
      done(`${recorded}: marked`),
    );
    expect(held(recorded, (capture) => capture.info().marks)).toContainEqual({ t_s: 0, text: 'clamped on' });
  });

  test.each([
    ['no time', ['--text', 'x'], 2, '--at is missing; for example --at 1h30m'],
    ['no text', ['--at', '5s'], 2, "--text is missing; for example --text 'driver door opened'"],
    [
      'a time that is none',
      ['--at', 'soon', '--text', 'x'],
      2,
      '--at soon is no time from the first sample; write it as 0s, 45m, 90s or 1h30m',
    ],
    [
      'a time after the end',
      ['--at', '1h', '--text', 'x'],
      1,
      'a mark at 3600 s lies outside the recording, which is 39.8 s long',
    ],
  ] as const)('%s is refused, and no mark is set', async (_, words, status, why) => {
    const before = held(recorded, (capture) => capture.info().marks);
    expect(await nightdraw('mark', recorded, ...words)).toEqual(refused(status, why));
    expect(held(recorded, (capture) => capture.info().marks)).toEqual(before);
  });
});

describe('about', () => {
  const ALL = [
    '--job',
    'J-9',
    '--plate',
    'ND 0451',
    '--vehicle',
    'WN1',
    '--customer',
    'Gray',
    '--dead-after',
    '3',
    '--note',
    'of Gray',
    '--battery',
    'agm',
    '--capacity',
    '70',
    '--reserve',
    '120',
    '--volts-before',
    '12.7',
    '--volts-after',
    '12.4',
    '--temperature',
    '-5',
  ];
  const BOARD =
    'Board         number 00000007, ina228, firmware 0.1.0\nCalibration   shunt 5 mOhm, gain 0 ppm, offset 0 nV\nHolds         40 s, 560 samples, 0 raw conversions, finished';
  const TOLD =
    'Plate         ND 0451\nVehicle       WN1\nCustomer      Gray\nDead after    3 days\nNote          of Gray\nBattery       agm\n';

  test('shows what the capture says and changes nothing of it', async () => {
    const before = readFileSync(recorded);
    expect(await nightdraw('about', recorded)).toEqual(done(`Job           Example of format 1\n${BOARD}`));
    expect(readFileSync(recorded).equals(before)).toBe(true);
    expect(await nightdraw('about', await imported())).toEqual(
      done('Holds         2 s, 3 samples, 0 raw conversions, finished'),
    );
  });

  test("sets every value, changes one by itself, and takes out what is ''", async () => {
    const battery =
      'Capacity      70 Ah\nReserve       120 min\nVolts before  12.7 V\nVolts after   12.4 V\nTemperature   -5 °C\n';
    expect(await nightdraw('about', recorded, ...ALL)).toEqual(done(`Job           J-9\n${TOLD}${battery}${BOARD}`));
    expect(await nightdraw('about', recorded, '--capacity', '', '--job', '', '--reserve', '90')).toEqual(
      done(`${TOLD}${battery.replace('Capacity      70 Ah\n', '').replace('120', '90')}${BOARD}`),
    );
    expect(held(recorded, (capture) => ({ ...capture.info(), personal: capture.personal() }))).toMatchObject({
      job: null,
      personal: { plate: 'ND 0451', vehicle: 'WN1', customer: 'Gray' },
      car: { deadAfter_days: 3, note: 'of Gray' },
      battery: { type: 'agm', reserve_min: 90, before_V: 12.7, after_V: 12.4, temperature_C: -5 },
    });
  });

  test.each([
    ['--battery', 'gel', '--battery gel is not flooded or agm'],
    ['--capacity', '1', '--capacity 1 is not a number from 5 to 300 Ah'],
    ['--temperature', 'cold', '--temperature cold is not a number from -40 to 60 °C'],
  ])('%s %s is refused, with the job beside it', async (option, value, why) => {
    expect(await nightdraw('about', recorded, '--job', 'other', option, value)).toEqual(refused(2, why));
    expect(held(recorded, (capture) => capture.info().job)).toBe('Example of format 1');
  });
});

describe('recalibrate', () => {
  const means = async (original = false) => [...(await openTrace(recorded, { original })).trace.mean_mA];
  const scaled = (values: number[], by: number) => values.map((value) => expect.closeTo(value * by, 9) as number);

  test('another shunt scales every current, and --as-recorded takes that back', async () => {
    const before = await means();
    expect(await nightdraw('recalibrate', recorded, '--shunt', '4', '--reason', 'measured')).toEqual(
      done(`${recorded}: calibrated anew; 'analyse --original' shows it as recorded`),
    );
    // The same volts in 4 mOhm instead of 5.
    expect(await means()).toEqual(scaled(before, 5 / 4));
    expect(await means(true)).toEqual(before);
    expect((await nightdraw('about', recorded)).stdout).toMatch(/^Later +shunt 4 mOhm: measured \(\d{4}-\d\d-\d\d\)$/m);
    expect(await nightdraw('recalibrate', recorded, '--as-recorded', '--reason', 'wrong board')).toEqual(
      done(`${recorded}: the board's own calibration again; 'analyse --original' shows it as recorded`),
    );
    expect(await means()).toEqual(before);
    expect(held(recorded, (capture) => capture.info().calibrations)).toMatchObject([
      { reason: 'measured', shunt_nOhm: 4_000_000, gain_ppm: null, offset_nV: null },
      { reason: 'wrong board', shunt_nOhm: null, gain_ppm: null, offset_nV: null },
    ]);
  });

  test('gain and offset: a negative one too', async () => {
    const before = await means();
    await nightdraw('recalibrate', recorded, '--gain', '-1000', '--offset', '500', '--reason', 'on the bench');
    // 500 nV in 5 mOhm are 0.1 mA.
    expect(await means()).toEqual(
      scaled(
        before.map((mean) => mean - 0.1),
        0.999,
      ),
    );
  });

  test.each([
    ['no value', ['--reason', 'x'], 2, '--shunt, --gain and --offset are missing; give one at least, or --as-recorded'],
    [
      'a value and none',
      ['--shunt', '4', '--as-recorded', '--reason', 'x'],
      2,
      '--as-recorded goes with no other value',
    ],
    ['no reason', ['--shunt', '4'], 2, "--reason is missing; for example --reason 'shunt measured at 4.98 mOhm'"],
    ['a shunt of nothing', ['--shunt', '0', '--reason', 'x'], 2, '--shunt 0 is not a number from 0.001 to 1000 mOhm'],
  ] as const)('%s is refused', async (_, words, status, why) => {
    const before = readFileSync(recorded);
    expect(await nightdraw('recalibrate', recorded, ...words)).toEqual(refused(status, why));
    expect(readFileSync(recorded).equals(before)).toBe(true);
  });

  test("another meter's currents are refused", async () => {
    const path = await imported();
    expect(await nightdraw('recalibrate', path, '--shunt', '4', '--reason', 'x')).toEqual(
      refused(1, `${path} was imported: its currents are another meter's, and no shunt of ours scales them`),
    );
  });
});

describe('forget', () => {
  test('names what it took out, which is in no byte of the file, and leaves the readings', async () => {
    await nightdraw(
      'about',
      recorded,
      '--plate',
      'ND 0451',
      '--customer',
      'Gray',
      '--note',
      'of Gray',
      '--dead-after',
      '3',
    );
    await nightdraw('mark', recorded, '--at', '5s', '--text', 'Gray came by');
    const before = await openTrace(recorded);
    expect(readFileSync(recorded).includes('Gray')).toBe(true);
    expect(await nightdraw('forget', recorded)).toEqual(done(`${recorded}: removed job, plate, customer, note, marks`));
    for (const word of ['Gray', 'ND 0451', 'Example of format 1'])
      expect(readFileSync(recorded).includes(word), word).toBe(false);
    const after = await openTrace(recorded);
    expect([after.trace.mean_mA, after.info!.car]).toEqual([before.trace.mean_mA, { deadAfter_days: 3 }]);
    expect(held(recorded, (capture) => capture.personal())).toEqual({});
    expect(await nightdraw('forget', recorded)).toEqual(done(`${recorded}: nothing was there to remove`));
  });

  test('the name of an imported file too', async () => {
    const path = await imported();
    expect(readFileSync(path).includes('meter.csv')).toBe(true);
    expect(await nightdraw('forget', path)).toEqual(done(`${path}: removed origin`));
    expect(readFileSync(path).includes('meter.csv')).toBe(false);
  });
});

describe('export', () => {
  test('CSV: a row for each sample, an existing file replaced', async () => {
    writeFileSync(at('out.csv'), 'what was there');
    expect(await nightdraw('export', await imported(), '--out', at('out.csv'))).toEqual(
      done(`${at('out.csv')}: written`),
    );
    expect(readFileSync(at('out.csv'), 'utf8')).toBe(CSV);
    await nightdraw('recalibrate', recorded, '--shunt', '4', '--reason', 'x');
    const first = async (...words: string[]) => {
      await nightdraw('export', recorded, '--out', at('out.csv'), ...words);
      return readFileSync(at('out.csv'), 'utf8').split('\n', 2);
    };
    expect(await first('--original')).toEqual([
      't_s,dur_s,current_mA,min_mA,max_mA,voltage_V,mark',
      '0,0.05,20,19,22,,',
    ]);
    expect(await first()).toEqual([expect.anything(), '0,0.05,25,23.75,27.5,,']);
  });

  test.each(['json', 'parquet'])(
    '%s: import makes the same capture of it again; people only with --personal',
    async (ending) => {
      await nightdraw('about', recorded, '--plate', 'ND 0451');
      const whole = (path: string) =>
        held(path, (capture) => ({
          info: { ...capture.info(), path: '' },
          trace: capture.trace(),
          voltage: capture.voltage(),
          readings: capture.readings(),
          personal: capture.personal(),
        }));
      const before = whole(recorded);
      const back = async (name: string, ...words: string[]) => {
        const out = at(`${name}.${ending}`),
          path = at(`${name}.nightdraw`);
        expect(await nightdraw('export', recorded, '--out', out, ...words)).toEqual(done(`${out}: written`));
        expect(await nightdraw('import', out, '--out', path)).toEqual(done(`${path}: 560 samples`));
        return whole(path);
      };
      expect(await back('without')).toEqual({ ...before, personal: {} });
      expect(await back('with', '--personal')).toEqual(before);
      expect(before.personal).toEqual({ plate: 'ND 0451' });
    },
  );

  test.each([
    ['another ending', 'out.xls', [], 2, '--out OUT is none of .csv, .json and .parquet'],
    ['a file and a tree', 'out.csv', ['--parquet', 'tree'], 2, '--parquet goes without --out and --original'],
    ['a tree as recorded', null, ['--parquet', 'tree', '--original'], 2, '--parquet goes without --out and --original'],
    ['no name', null, [], 2, '--out is missing; for example --out monday.csv'],
  ] as const)('%s is refused, and no file is made', async (_, name, words, status, why) => {
    const out = name === null ? [] : ['--out', at(name)];
    expect(
      await nightdraw('export', recorded, ...out, ...words.map((word) => word.replace('tree', at('tree')))),
    ).toEqual(refused(status, why.replace('OUT', out[1] ?? '')));
    expect(readdirSync(folder).sort()).toEqual(['meter.csv', 'monday.nightdraw']);
  });

  test('a folder in the place of the file is refused, and no draft stays beside it', async () => {
    mkdirSync(at('taken.csv'));
    const { status, stderr } = await nightdraw('export', recorded, '--out', at('taken.csv'));
    expect([status, stderr]).toEqual([
      1,
      expect.stringMatching(/^nightdraw: .*taken\.csv cannot be written \([^\n]*\n$/),
    ]);
    expect(readdirSync(folder).sort()).toEqual(['meter.csv', 'monday.nightdraw', 'taken.csv']);
  });

  test('a folder that is not there is named, for each kind', async () => {
    for (const name of ['none/x.csv', 'none/x.json', 'none/x.parquet']) {
      const { status, stdout, stderr } = await nightdraw('export', recorded, '--out', at(name));
      expect([status, stdout, stderr.trim().split('\n')]).toEqual([
        1,
        '',
        [
          expect.stringMatching(
            `^nightdraw: ${at(name)} cannot be written \\(ENOENT.*\\); check that its folder exists`,
          ),
        ],
      ]);
    }
  });
});

describe('a file that is no capture', () => {
  const COMMANDS = [
    'mark --at 1s --text x',
    'about',
    'about --job x',
    'recalibrate --shunt 4 --reason x',
    'forget',
    'export --out OUT.csv --original',
    'export --out OUT.json',
    'export --out OUT.parquet',
  ];

  test.each(COMMANDS)('%s: a missing one, a CSV, none and two are refused in one line', async (typed) => {
    const [command, ...words] = typed.split(' ').map((word) => word.replace('OUT', at('out')));
    const call = (...files: string[]) => nightdraw(command!, ...files, ...words);
    expect(await call(at('none'))).toEqual(refused(1, `${at('none')} does not exist; check the name`));
    expect(existsSync(at('none'))).toBe(false);
    // CSV out of a CSV is no loss: it is the same trace.
    if (!typed.includes('.csv'))
      expect(await call(csv)).toEqual(refused(1, `${csv} is not a capture: it does not begin as one`));
    expect(readFileSync(csv, 'utf8')).toBe(CSV);
    expect(await call()).toEqual(
      refused(2, `${command} takes one file name, not 0; see 'nightdraw ${command} --help'`),
    );
    expect(await call(recorded, csv)).toEqual(
      refused(2, `${command} takes one file name, not 2; see 'nightdraw ${command} --help'`),
    );
    expect(readdirSync(folder).sort()).toEqual(['meter.csv', 'monday.nightdraw']);
  });
});
