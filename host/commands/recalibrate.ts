// `recalibrate`: a calibration that was found after the recording, for a capture that
// is there already. What the board said stays in it.

import { addCalibration } from '../capture/store/amend.ts';
import { optionalNumber, requiredText, UsageError } from './command.ts';
import type { Command } from './command.ts';
import { answer } from './tell.ts';

export const command: Command = {
  help: `nightdraw recalibrate FILE --reason TEXT [--shunt mOhm] [--gain ppm] [--offset nV]
nightdraw recalibrate FILE --reason TEXT --as-recorded

For a shunt that was measured, or a board that was calibrated, after the night.
The readings stay as they were; what is shown of them is scaled by the newest
such entry. A value that is not given is the board's own.

  --shunt mOhm   resistance of the shunt, milliohms
  --gain ppm     what its currents are made larger by, millionths
  --offset nV    what the sense chip reads without a current, nanovolts
  --as-recorded  back to the board's own values
  --reason TEXT  why; kept in the capture with the date`,
  options: {
    shunt: { type: 'string' },
    gain: { type: 'string' },
    offset: { type: 'string' },
    'as-recorded': { type: 'boolean' },
    reason: { type: 'string' },
  },
  positionals: 1,
  run(values, positionals) {
    const shunt_mOhm = optionalNumber(values, 'shunt', 0.001, 1000, 'mOhm');
    const gain_ppm = optionalNumber(values, 'gain', -500_000, 500_000, 'ppm');
    const offset_nV = optionalNumber(values, 'offset', -10_000_000, 10_000_000, 'nV');
    const nothing = shunt_mOhm === undefined && gain_ppm === undefined && offset_nV === undefined;
    if (nothing !== (values['as-recorded'] === true)) {
      throw new UsageError(
        nothing
          ? '--shunt, --gain and --offset are missing; give one at least, or --as-recorded'
          : '--as-recorded goes with no other value',
      );
    }
    addCalibration(positionals[0]!, {
      made_ms: Date.now(),
      reason: requiredText(values, 'reason', "'shunt measured at 4.98 mOhm'"),
      shunt_nOhm: shunt_mOhm === undefined ? null : Math.round(shunt_mOhm * 1e6),
      gain_ppm: gain_ppm ?? null,
      offset_nV: offset_nV ?? null,
    });
    answer(
      `${positionals[0]}: ${nothing ? "the board's own calibration again" : 'calibrated anew'}; 'analyse --original' shows it as recorded`,
    );
    return Promise.resolve(0);
  },
};
