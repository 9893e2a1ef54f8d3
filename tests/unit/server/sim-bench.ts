// A board whose readings the test gives by itself, at any speed: where the server is given its
// boards from outside. What comes of them, and each capture, is the product's own.
import type { Hello, WindowReading } from '../../../host/contract/capture.ts';
import { CaptureWriter, createCapture } from '../../../host/capture/store/writer.ts';
import type { RecordRequest, Workbench } from '../../../host/server/live/workbench.ts';

export const SIM_PORT = 'simulated';
const WINDOW_s = 0.5;

export const HELLO: Hello = {
  ...{ kind: 'hello', proto: 1, fw: '0.3.0', mcu: 'none', sensor: 'none', id: 7, boot: 1, cause: 'power' },
  ...{ shunt_nOhm: 5_000_000, gain_ppm: 0, offset_nV: 0, window_us: WINDOW_s * 1e6, stream: 'w', speed: 1 },
};

export class SimBench implements Workbench {
  private recording: { request: RecordRequest; writer: CaptureWriter; run: number } | null = null;
  private waiting: WindowReading[] = [];
  private seq = 0;

  find(except: readonly string[]): ReturnType<Workbench['find']> {
    return Promise.resolve(
      except.includes(SIM_PORT)
        ? []
        : [{ port: SIM_PORT, about: null, hello: HELLO, certificate: null, trouble: null }],
    );
  }

  prove(): ReturnType<Workbench['prove']> {
    return Promise.reject(new Error('nobody proves a board here'));
  }

  free_bytes(): number {
    return 1e9;
  }

  record(request: RecordRequest): Promise<void> {
    createCapture(request.out, {
      ...{ kind: 'recorded', software: 'test', created_ms: 0, axis_ms: 0, job: request.job, origin: null },
      personal: request.personal,
    });
    const writer = new CaptureWriter(request.out);
    const run = writer.beginRun({ reason: 'start', hello: HELLO, began_ms: 0 });
    this.recording = { request, writer, run };
    this.seq = 0;
    this.commit();
    return new Promise((resolve) => {
      request.signal.addEventListener('abort', () => {
        this.commit();
        writer.finish();
        writer.close();
        this.recording = null;
        resolve();
      });
    });
  }

  /** One window that ends at `t_s`. */
  read(t_s: number, mean_uA: number): void {
    const reading: WindowReading = {
      ...{ kind: 'window', seq: this.seq++, t_us: Math.round(t_s * 1e6), dur_us: WINDOW_s * 1e6, count: 500 },
      ...{ mean_uA, min_uA: mean_uA, max_uA: mean_uA, charge_nC: 0, flags: 0 },
    };
    this.waiting.push(reading);
    this.recording!.request.live.publish({ reading, t_s, late: false });
  }

  /** What came since the last time is on the disk, and the server hears of it. */
  commit(): void {
    const { request, writer, run } = this.recording!;
    writer.commit({ run, readings: this.waiting });
    this.waiting = [];
    request.onProgress({
      ...{ recorded_s: this.seq * WINDOW_s, recordedTo_ms: this.seq * WINDOW_s * 1000, windows: this.seq },
      ...{ lostLines: 0, badLines: 0, missing_s: 0, voltage_V: 12.6, current_mA: null },
    });
  }
}
