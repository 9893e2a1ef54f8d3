// A whole job at one car, as the page leads through it: nights from the live page, the search in
// the bay, the report. Clicked on a wide screen, tapped on a telephone.
//
// The emulated microcontroller passes some 27 times faster than the clock at most, which is too
// slow for hours. So a night begins live, the computer loses its power, the hours meanwhile are
// laid into the capture by the real writer from the same modelled car, and the page goes on with
// the recording. With NIGHTDRAW_SOAK=1 nothing is laid: every reading is the board's own.
import { execFileSync } from 'node:child_process';
import { existsSync } from 'node:fs';
import { uptime } from 'node:os';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import type { Page } from 'playwright-core';
import { readResumePoint } from '../../host/capture/store/resume.ts';
import { CaptureWriter } from '../../host/capture/store/writer.ts';
import type { WindowReading } from '../../host/contract/capture.ts';
import { PULLS } from '../../host/emulator/car/scenarios/pulls.ts';
import { SwitchedCar } from '../../host/emulator/car/switched.ts';
import { gaussian, seededRandom } from '../../host/emulator/random.ts';
import { BayStage, press } from './bay-stage.ts';
import { findBoards } from './live-stage.ts';

const WHOLE = process.env['NIGHTDRAW_SOAK'] === '1';
/** As fast as one core passes it; beside two busy ones it is not kept up, which changes no reading. */
export const SPEED = WHOLE ? 20 : 8;
/** Of the car's time, recorded live at either end of a night. */
const LIVE_s = 20;
const WINDOW_s = 1;
/** Of the sense chip, in a window of a second. */
const NOISE_mA = 0.05;

export class JobStage extends BayStage {
  /** Records a night from the live page, and opens it from there. @returns the capture's name */
  async recordNight(page: Page, job: string, length_s: number): Promise<string> {
    await page.goto(`${this.url}live.html`);
    await findBoards(page, 1);
    const form = page.locator('.found form');
    await form.getByLabel('Job or complaint').fill(job);
    await press(form.getByRole('button', { name: 'Start recording' }));
    const name = (await page.locator('.live-board[data-doing="live"]').getAttribute('data-name'))!;
    await this.untilRecorded(page, name, LIVE_s);
    if (!WHOLE) {
      const { port } = this;
      await this.kill('SIGKILL');
      this.layHours(name, length_s - 2 * LIVE_s);
      // It goes on with what it was recording.
      await this.serve(port);
    }
    const panel = page.locator(`.live-board[data-name="${name}"][data-doing="live"]`);
    await this.untilRecorded(page, name, length_s);
    await press(panel.getByRole('button', { name: 'End recording' }));
    await press(panel.getByRole('button', { name: 'Yes, end it' }));
    const ended = page.locator(`.live-board[data-name="${name}"][data-doing="ended"]`);
    await press(ended.getByRole('link', { name: 'Open the night' }));
    await page.waitForSelector('#main:not([aria-busy])');
    return name;
  }

  private async untilRecorded(page: Page, name: string, length_s: number): Promise<void> {
    const recorded_s = () =>
      page.evaluate(async (one) => {
        const { recordings } = (await (await fetch('api/recordings')).json()) as {
          recordings: { name: string; recorded_s: number }[];
        };
        return recordings.find((recording) => recording.name === one)?.recorded_s ?? 0;
      }, name);
    while ((await recorded_s()) < length_s) await pause(100);
  }

  /** The car as the hands left it, from where the capture stopped on; a run of its own, as after a power cut. */
  private layHours(name: string, length_s: number): void {
    const path = join(this.captures, name);
    const { run, end_us } = readResumePoint(path);
    const car = new SwitchedCar(PULLS);
    car.switch(this.hands.out, 0);
    const normal = gaussian(seededRandom(end_us));
    const readings = Array.from({ length: Math.round(length_s / WINDOW_s) }, (_, seq): WindowReading => {
      const [from_s, to_s] = [seq * WINDOW_s, (seq + 1) * WINDOW_s];
      const mean_uA = ((car.charge_mC(to_s) - car.charge_mC(from_s)) / WINDOW_s + NOISE_mA * normal()) * 1000;
      return {
        ...{ kind: 'window', seq, t_us: to_s * 1e6, dur_us: WINDOW_s * 1e6, count: 900, flags: 0 },
        ...{ mean_uA, min_uA: mean_uA - 500, max_uA: mean_uA + 500, charge_nC: Math.round(car.charge_mC(to_s) * 1e6) },
      };
    });
    const writer = new CaptureWriter(path);
    const hello = { ...run!.hello, boot: run!.hello.boot + 1, window_us: WINDOW_s * 1e6 };
    writer.commit({
      run: writer.beginRun({ reason: 'resume', hello, began_ms: Date.now() }, null),
      readings,
      clock: [{ t_us: 0, axis_us: end_us }],
      host: { axis_us: end_us + length_s * 1e6, wall_ms: Date.now(), up_s: uptime() },
    });
    writer.close();
  }

  /** The words of the PDF in a job folder that the page says it has written. */
  reportIn(said: string): string {
    const folder = join(this.captures, /(\S+-job) lies beside the captures/.exec(said)![1]!);
    const [pdf] = said.match(/[^\s,]+\.pdf/)!;
    if (!existsSync(join(folder, pdf))) throw new Error(`${pdf} is not in ${folder}`);
    return execFileSync('pdftotext', ['-raw', join(folder, pdf), '-'], { encoding: 'utf8' });
  }
}

/** Lines are broken anywhere, after a hyphen too: the letters alone are compared. */
export const letters = (text: string): string => text.replace(/[\s\u00ad-]+/g, '');
