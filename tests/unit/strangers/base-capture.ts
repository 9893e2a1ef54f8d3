// A small capture with something in each of its tables: windows, voltages, raw conversions,
// a fault, a mark, a line that was not believed, a later calibration, and work in the bay.
import { addCalibration, addMark, tell } from '../../../host/capture/store/amend.ts';
import { BayLog } from '../../../host/capture/store/bay-log.ts';
import type { Hello, Reading } from '../../../host/contract/capture.ts';
import { CaptureWriter, createCapture } from '../../../host/capture/store/writer.ts';

const AXIS_MS = Date.UTC(2031, 4, 5, 20, 0, 0);
const WINDOWS = 6000;

const hello: Hello = {
  kind: 'hello',
  proto: 1,
  fw: '0.3.0',
  mcu: 'atmega328p',
  sensor: 'ina228',
  id: 7,
  boot: 1,
  cause: 'power',
  shunt_nOhm: 5_000_000,
  gain_ppm: 0,
  offset_nV: 0,
  window_us: 50_000,
  stream: 'windows',
  speed: 1,
};

/** Asleep at 20 mA, awake for 2 s in each 20. */
const current_uA = (i: number) => (i % 400 < 40 ? 320_000 + (i % 7) * 100 : 20_000 + (i % 5) * 50);

export function writeBaseCapture(path: string): void {
  createCapture(path, {
    kind: 'recorded',
    software: 'test',
    created_ms: AXIS_MS,
    axis_ms: AXIS_MS,
    job: 'J-7',
    origin: { scenario: 'small' },
    personal: { plate: 'AB 1' },
  });
  const writer = new CaptureWriter(path);
  const half = WINDOWS / 2;
  for (const [n, reason] of (['start', 'boot'] as const).entries()) {
    const run = writer.beginRun({ reason, hello: { ...hello, boot: n + 1 }, began_ms: AXIS_MS + n * half * 50 });
    writer.describeRun(run, {
      limits: {
        kind: 'limits',
        range_uV: 163_840,
        step_pV: 312_500,
        offset_nV: 1000,
        gain_ppm: 500,
        conv_us: 1050,
        temp: true,
      },
    });
    let charge_nC = 0;
    const readings: Reading[] = Array.from({ length: half }, (_, i) => {
      charge_nC += current_uA(i) * 50;
      return {
        kind: 'window',
        seq: i,
        t_us: (i + 1) * 50_000,
        dur_us: 50_000,
        count: 47,
        mean_uA: current_uA(i),
        min_uA: current_uA(i) - 300,
        max_uA: current_uA(i) + 400,
        charge_nC,
        flags: 0,
      };
    });
    for (let s = 0; s < half / 20; s++)
      readings.push({ kind: 'voltage', seq: s, t_us: (s + 1) * 1e6, bus_mV: 12_600, temp_mC: 21_000, dropped: 0 });
    for (let line = 0; line < 40; line++) {
      const t_us = 2_000_000 + line * 12_600;
      readings.push({
        kind: 'raw',
        seq: line,
        t_us,
        samples: Array.from({ length: 12 }, (_, k) => ({
          t_us: t_us - (11 - k) * 1050,
          units: 3000 + ((line * 12 + k) % 50),
          flags: k === 0 && line === 0 ? 8 : 0,
        })),
      });
    }
    readings.push({ kind: 'status', seq: 0, t_us: 5_000_000, code: 'sensor-missing', detail: 2 });
    const ascending = readings.sort((a, b) => a.t_us - b.t_us);
    const clock = [
      { t_us: 0, axis_us: n * half * 50_000 },
      { t_us: half * 50_000, axis_us: (n + 1) * half * 50_000 },
    ];
    for (let i = 0; i < ascending.length; i += 200)
      writer.commit({
        run,
        readings: ascending.slice(i, i + 200),
        clock,
        badLines: [{ wall_ms: AXIS_MS, reason: 'check', line: 'W 1' }],
        badLineCount: 1,
      });
  }
  writer.finish();
  addMark(path, 30, 'door');
  addCalibration(path, { made_ms: AXIS_MS, reason: 'meter', shunt_nOhm: 5_010_000, gain_ppm: null, offset_nV: null });
  tell(path, { battery: { capacity_Ah: 70 }, car: { deadAfter_days: 4 } });
  const bay = new BayLog(path);
  bay.append([{ t_s: 40, code: 'prepared', text: 'ready' }], '{"version":1}');
  bay.close();
}
