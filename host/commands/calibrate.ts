// `calibrate`: shows what a board reads and how it is calibrated; sets its zero, its gain
// and its shunt with a multimeter beside it (firmware/BOARD.md, "Calibration").

import type { Hello } from '../contract/capture.ts';
import { CalibrationBench, KNOWN_LIMITS_mA, SHUNT_LIMITS_mOhm } from '../link/calibration.ts';
import type { Change } from '../link/calibration.ts';
import { openSerialPort } from '../link/serial-port.ts';
import { sentence } from './columns.ts';
import { optionalNumber, requiredText, UsageError } from './command.ts';
import type { Command, OptionValues } from './command.ts';
import { hostClock } from './host-clock.ts';
import { WHILE_CALIBRATING } from '../say/cautions.ts';
import { stopSignal } from './stop.ts';
import { answer, tell } from './tell.ts';

export const command: Command = {
  help: `nightdraw calibrate --port PATH [--zero | --known mA | --shunt mOhm | --forget]

Without a further option: what the board reads now, and its calibration. Off the
car, an hour after the board came into the room (firmware/BOARD.md, "Calibration"):
first --zero, then --known. Each is stored in the board.
${WHILE_CALIBRATING.map((text) => `\n${sentence(text, '! ', '  ')}`).join('')}

  --port PATH     serial port of the board
  --zero          no current flows, and the sense wires are on the shunt: take
                  the present reading as zero
  --known mA      the current that a multimeter in series shows, ${KNOWN_LIMITS_mA.least} to ${KNOWN_LIMITS_mA.most};
                  negative where it charges
  --shunt mOhm    nominal value of the shunt, ${SHUNT_LIMITS_mOhm.least} to ${SHUNT_LIMITS_mOhm.most}
  --forget        back to no calibration and a shunt of 5 mOhm`,
  options: {
    port: { type: 'string' },
    zero: { type: 'boolean' },
    known: { type: 'string' },
    shunt: { type: 'string' },
    forget: { type: 'boolean' },
  },
  positionals: 0,
  async run(values) {
    const port = requiredText(values, 'port', '/dev/ttyUSB0');
    const change = changeOf(values);
    if (change?.what === 'zero' || change?.what === 'gain') for (const caution of WHILE_CALIBRATING) tell(caution);
    const bench = new CalibrationBench(port, { time: hostClock, openPort: openSerialPort });
    await bench.open(stopSignal());
    try {
      if (change !== null) {
        await bench.change(change);
        answer(`stored in the board: ${inWords(bench.hello)}`);
      } else answer(inWords(bench.hello));
      const { mean_mA, least_mA, most_mA } = await bench.read();
      const asked = change?.what === 'gain' ? `, the multimeter ${change.known_mA} mA` : '';
      answer(
        `it reads ${mean_mA.toFixed(2)} mA (${least_mA.toFixed(2)} to ${most_mA.toFixed(2)} in two seconds)${asked}`,
      );
    } finally {
      await bench.close();
    }
    return 0;
  },
};

function changeOf(values: OptionValues): Change | null {
  const known_mA = optionalNumber(values, 'known', -KNOWN_LIMITS_mA.most, KNOWN_LIMITS_mA.most, 'mA');
  if (known_mA !== undefined && Math.abs(known_mA) < KNOWN_LIMITS_mA.least)
    throw new UsageError(
      `--known ${known_mA} mA is too little to tell a gain by; take a load of ${KNOWN_LIMITS_mA.least} mA or more, best 1 A`,
    );
  const shunt_mOhm = optionalNumber(values, 'shunt', SHUNT_LIMITS_mOhm.least, SHUNT_LIMITS_mOhm.most, 'mOhm');
  const changes: Change[] = [];
  if (values['zero'] === true) changes.push({ what: 'zero' });
  if (known_mA !== undefined) changes.push({ what: 'gain', known_mA });
  if (shunt_mOhm !== undefined) changes.push({ what: 'shunt', shunt_mOhm });
  if (values['forget'] === true) changes.push({ what: 'forget' });
  if (changes.length > 1)
    throw new UsageError(
      'give only one of --zero, --known, --shunt and --forget: the leads are connected differently for each',
    );
  return changes[0] ?? null;
}

function inWords(hello: Hello): string {
  const how =
    hello.cal === 'none'
      ? 'not calibrated'
      : hello.cal === 'changed'
        ? 'calibrated, but not stored'
        : `calibrated (stored ${hello.cal_gen ?? 0} times)`;
  return `shunt ${hello.shunt_nOhm / 1e6} mΩ, gain ${(hello.gain_ppm / 1e4).toFixed(3)} %, offset ${(hello.offset_nV / 1000).toFixed(3)} µV; ${how}`;
}
