// `about`: what a capture says of its job, car, battery and board, and how to tell it more.

import { boardNumber } from '../say/board.ts';
import { checkedWords } from '../say/certificate.ts';
import { tell } from '../capture/store/amend.ts';
import type { Told } from '../capture/store/amend.ts';
import { openCapture } from '../capture/read/reader.ts';
import type { CaptureInfo, Personal } from '../contract/capture.ts';
import { optionalNumber, UsageError } from './command.ts';
import type { Command, OptionValues } from './command.ts';
import { answer } from './tell.ts';

export const command: Command = {
  help: `nightdraw about FILE [--battery agm] [--capacity Ah] [--dead-after DAYS] ...

Without an option: shows it. With options: sets them; '' takes one out.

  --job TEXT          what the capture is about
  --dead-after DAYS   the complaint: dead after so many days
  --note TEXT         on the car
  --battery TYPE      flooded or agm
  --capacity Ah       on the battery's label
  --reserve MIN       its reserve capacity, minutes
  --volts-before V, --volts-after V
                      rested battery voltage before and after the recording
  --temperature C     of the battery, degrees Celsius
  --plate TEXT, --vehicle TEXT, --customer TEXT
                      kept in the capture alone; 'nightdraw forget' takes them out`,
  options: Object.fromEntries(
    [
      'job',
      'dead-after',
      'note',
      'battery',
      'capacity',
      'reserve',
      'volts-before',
      'volts-after',
      'temperature',
      'plate',
      'vehicle',
      'customer',
    ].map((name) => [name, { type: 'string' as const }]),
  ),
  positionals: 1,
  run(values, positionals) {
    const path = positionals[0]!;
    const told = toldBy(values);
    if (Object.keys(told).length > 0) tell(path, told);
    const capture = openCapture(path);
    try {
      answer(inWords(capture.info(), capture.personal()));
    } finally {
      capture.close();
    }
    return Promise.resolve(0);
  },
};

/** Each value as it is, null where it is to be taken out, and nothing where it was not given. */
function toldBy(values: OptionValues): Told {
  const text = (option: string) =>
    typeof values[option] !== 'string' ? undefined : values[option] === '' ? null : values[option];
  const number = (option: string, min: number, max: number, unit: string) =>
    values[option] === '' ? null : optionalNumber(values, option, min, max, unit);
  const type = text('battery');
  if (type !== undefined && type !== null && type !== 'flooded' && type !== 'agm')
    throw new UsageError(`--battery ${type} is not flooded or agm`);
  const parts = {
    personal: given({ plate: text('plate'), vehicle: text('vehicle'), customer: text('customer') }),
    car: given({ deadAfter_days: number('dead-after', 0.1, 365, 'days'), note: text('note') }),
    battery: given({
      type,
      capacity_Ah: number('capacity', 5, 300, 'Ah'),
      reserve_min: number('reserve', 10, 500, 'min'),
      before_V: number('volts-before', 10, 13.5, 'V'),
      after_V: number('volts-after', 10, 13.5, 'V'),
      temperature_C: number('temperature', -40, 60, '°C'),
    }),
  };
  const job = text('job');
  return {
    ...(job === undefined ? {} : { job }),
    ...Object.fromEntries(Object.entries(parts).filter(([, part]) => Object.keys(part).length > 0)),
  };
}

const given = (values: object): object =>
  Object.fromEntries(Object.entries(values).filter(([, value]) => value !== undefined));

function inWords(info: CaptureInfo, personal: Personal): string {
  const { job, car, battery, runs, calibrations } = info;
  const row = (name: string, value: string | number | null | undefined, unit = '') =>
    value === null || value === undefined ? [] : [`${name.padEnd(14)}${value}${unit}`];
  const { hello } = runs.at(-1) ?? {};
  const later = calibrations.at(-1);
  return [
    ...row('Job', job),
    ...row('Plate', personal.plate),
    ...row('Vehicle', personal.vehicle),
    ...row('Customer', personal.customer),
    ...row('Dead after', car?.deadAfter_days, ' days'),
    ...row('Note', car?.note),
    ...row('Battery', battery?.type),
    ...row('Capacity', battery?.capacity_Ah, ' Ah'),
    ...row('Reserve', battery?.reserve_min, ' min'),
    ...row('Volts before', battery?.before_V, ' V'),
    ...row('Volts after', battery?.after_V, ' V'),
    ...row('Temperature', battery?.temperature_C, ' °C'),
    ...row('Board', hello && `number ${boardNumber(hello.id)}, ${hello.sensor}, firmware ${hello.fw}`),
    ...row('Board is', info.certificate && checkedWords(info.certificate, hello?.cal_gen)),
    ...row(
      'Calibration',
      hello && `shunt ${hello.shunt_nOhm / 1e6} mOhm, gain ${hello.gain_ppm} ppm, offset ${hello.offset_nV} nV`,
    ),
    ...row(
      'Later',
      later && `${laterInWords(later)}: ${later.reason} (${new Date(later.made_ms).toISOString().slice(0, 10)})`,
    ),
    ...row(
      'Holds',
      `${info.duration_s.toFixed(0)} s, ${info.samples} samples, ${info.rawSamples} raw conversions, ${info.state}`,
    ),
  ].join('\n');
}

function laterInWords({ shunt_nOhm, gain_ppm, offset_nV }: CaptureInfo['calibrations'][number]): string {
  const parts = [
    shunt_nOhm === null ? '' : `shunt ${shunt_nOhm / 1e6} mOhm`,
    gain_ppm === null ? '' : `gain ${gain_ppm} ppm`,
    offset_nV === null ? '' : `offset ${offset_nV} nV`,
  ];
  return parts.filter((part) => part !== '').join(', ') || "the board's own again";
}
