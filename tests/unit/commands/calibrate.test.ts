// `nightdraw calibrate` typed wrongly: refused before any port is opened.
import { expect, test } from 'vitest';
import { nightdraw } from '../../in-process.ts';

const TWO = 'give only one of --zero, --known, --shunt and --forget: the leads are connected differently for each';

test.each([
  ['', '--port is missing; for example --port /dev/ttyUSB0'],
  ['--zero', '--port is missing; for example --port /dev/ttyUSB0'],
  ['--port none --zero --known 1000', TWO],
  ['--port none --zero --forget', TWO],
  ['--port none --known 1000 --shunt 5', TWO],
  ['--port none --known 10', '--known 10 mA is too little to tell a gain by; take a load of 100 mA or more, best 1 A'],
  [
    '--port none --known -10',
    '--known -10 mA is too little to tell a gain by; take a load of 100 mA or more, best 1 A',
  ],
  ['--port none --known much', '--known much is not a number from -30000 to 30000 mA'],
  ['--port none --shunt 0', '--shunt 0 is not a number from 0.1 to 100 mOhm'],
  ['--port none board', "calibrate takes no file name, not 1; see 'nightdraw calibrate --help'"],
])('calibrate %s: one line, exit 2', async (typed, why) => {
  expect(await nightdraw('calibrate', ...typed.split(' ').filter((word) => word !== ''))).toEqual({
    status: 2,
    stdout: '',
    stderr: `nightdraw: ${why}\n`,
  });
});
