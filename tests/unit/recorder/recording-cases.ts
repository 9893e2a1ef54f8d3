// What the recorder keeps and what it refuses, with a scripted board behind its port: in
// virtual time (record.test.ts), and through the serial port package and a pseudo-terminal
// (record.real.test.ts).
import { existsSync, readdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { openTrace } from '../../../host/night/open.ts';
import { LiveFeed } from '../../../host/recorder/live.ts';
import { lockCapture } from '../../../host/recorder/lock.ts';
import { record } from '../../../host/recorder/record.ts';
import type { RecordOptions } from '../../../host/recorder/record.ts';
import {
  board,
  clock,
  eachOnAFreshBench,
  folder,
  mostlyVirtual,
  notes,
  options,
  out,
  over,
  plug,
  progress,
  recorded,
  stopper,
  until,
  wait,
} from './record-bench.ts';
import type { Ways } from './record-bench.ts';

/** Says what each of them expects of a recorder in that room. */
export function recordingCases(ways: Ways): void {
  eachOnAFreshBench(ways);
  const virtually = mostlyVirtual(ways);

  describe('recording', () => {
    test('for a time of the car: everything that was sent, once, in one file', async () => {
      plug({ speed: 20 });
      const summary = await recorded({ for_s: 30, job: 'J-7', origin: { scenario: 'scripted' } });
      expect(summary).toMatchObject({
        windows: 600,
        lostLines: 0,
        badLines: 0,
        voltage_V: 12.6,
        missing_s: 0,
        resumedAt_s: null,
        board: { id: 0xb0a4d, speed: 20 },
      });
      expect(summary.recorded_s).toBeCloseTo(30, 6);
      const { trace, voltage, info } = await openTrace(out);
      expect(info).toMatchObject({ state: 'finished', job: 'J-7', samples: 600, origin: { scenario: 'scripted' } });
      expect(info!.duration_s).toBeCloseTo(30, 6);
      expect(trace.gaps).toEqual([]);
      const sent = board!.sent.map((w) => w.mean_uA / 1000);
      const first = board!.sent.findIndex((w) => w.mean_uA / 1000 === trace.mean_mA[0]);
      expect([...trace.mean_mA]).toEqual(sent.slice(first, first + 600));
      expect(voltage!.voltage_V.length).toBeGreaterThanOrEqual(29);
      expect(readdirSync(folder).filter((name) => name !== 'port')).toEqual(['night']);
      expect(progress.length).toBeGreaterThan(1);
    });

    test('stopped by hand: what came is there, and progress never ran ahead of the disk', async () => {
      plug({ speed: 4 });
      const onDisk: number[] = [];
      const done = record(
        options({
          onProgress: (p) => {
            progress.push(p);
            onDisk.push(p.windows);
          },
        }),
      );
      await until(() => progress.some((p) => p.windows > 50), '50 windows');
      expect((await openTrace(out)).trace.mean_mA.length).toBeGreaterThanOrEqual(onDisk.at(-1)!);
      stopper.abort();
      const summary = await over(done);
      const { trace, info } = await openTrace(out);
      expect([trace.mean_mA.length, info!.state]).toEqual([summary.windows, 'finished']);
    });

    virtually('a slow board that answers the hello twice is one board', async () => {
      plug({ speed: 40, hellos: 3 });
      await recorded({ for_s: 10 });
      expect((await openTrace(out)).info!.runs.length).toBe(1);
      expect(notes).toEqual([]);
    });

    // What a busy computer adds says nothing of the program.
    test.runIf(ways === 'virtual')(
      'host time is close to the true one: the start, and the length of a real second',
      async () => {
        plug();
        const began = clock().wall_ms();
        const summary = await recorded({ for_s: 3 });
        const { info } = await openTrace(out);
        expect(info!.start_ms! - began).toBeGreaterThan(-100);
        expect(info!.start_ms! - began).toBeLessThan(1500);
        expect(Math.abs(summary.recordedTo_ms - info!.start_ms! - 3000)).toBeLessThan(100);
      },
    );
  });

  describe('live', () => {
    virtually(
      'every reading once, and in virtual time at most 100 ms after its line was sent; the battery watched',
      async () => {
        plug();
        const live = new LiveFeed();
        const seen: { seq: number; at_ms: number; t_s: number | null }[] = [];
        live.subscribe(
          ({ reading, t_s }) =>
            reading.kind === 'window' && seen.push({ seq: reading.seq, at_ms: clock().now_us() / 1000, t_s }),
        );
        const sent_ms = new Map<number, number>();
        board!.disturb = (line) => {
          sent_ms.set(parseInt(line.split(' ')[1]!, 16), clock().now_us() / 1000);
          return line;
        };
        const summary = await recorded({ for_s: 4, live, low_V: 12.7 });
        expect(seen.length).toBe(summary.windows);
        // The first ones wait for the hello.
        const late_ms = seen
          .filter(({ seq }) => seq > seen[0]!.seq + 20)
          .map(({ seq, at_ms }) => at_ms - sent_ms.get(seq)!)
          .sort((a, b) => a - b);
        if (ways === 'virtual') expect(late_ms.at(-1)).toBeLessThan(100);
        expect(seen.at(-1)!.t_s).toBeCloseTo(4, 1);
        expect(notes.filter((note) => /battery is down to 12\.60 V/.test(note))).toHaveLength(1);
      },
    );
  });

  describe('a computer that sleeps', () => {
    /** Clocks of a computer that slept: the monotonic one stood still. */
    function sleeping() {
      const at = { slept_s: 0, set_s: 0 };
      const awake = clock();
      return {
        at,
        clock: {
          ...awake,
          now_us: () => awake.now_us() - at.slept_s * 1e6,
          wall_ms: () => awake.wall_ms() + at.set_s * 1000,
        },
      };
    }

    virtually('a board that was reset in it: the gap is as long as the sleep, and its charge an estimate', async () => {
      plug();
      const { at, clock } = sleeping();
      const done = record(options({ clock, for_s: 6 }));
      await until(() => progress.some((p) => p.windows > 20), '20 windows');
      board!.unplug();
      await wait(2600);
      board!.reset();
      at.slept_s += 2.5;
      at.set_s += 3600;
      board!.plug();
      await over(done);
      expect(notes.some((note) => /this computer slept for 2\.[3-9] s/.test(note))).toBe(true);
      const { trace } = await openTrace(out);
      const [gap] = trace.gaps;
      expect(trace.gaps.length).toBe(1);
      expect(gap!.end_s - gap!.start_s).toBeGreaterThan(2.4);
      expect(gap!.end_s - gap!.start_s).toBeLessThan(4.5);
      expect(gap!.charge_mAh).toBeNull();
      expect(gap!.uncertain_s).toBe(0.05);
      expect(gap!.estimate_mAh!.low).toBeCloseTo((10 * (gap!.end_s - gap!.start_s)) / 3600, 3);
    });

    virtually('resumed by another boot after the clock was set: the doubt is stated', async () => {
      plug();
      const { at, clock } = sleeping();
      await expect(
        recorded({
          clock,
          onProgress: (p) => {
            progress.push(p);
            if (p.windows > 20) throw new Error('stop');
          },
        }),
      ).rejects.toThrow('stop');
      await wait(300);
      board!.reset();
      at.set_s += 120;
      await recorded({ clock, for_s: 126 });
      const [gap] = (await openTrace(out)).trace.gaps;
      expect(gap!.uncertain_s).toBeGreaterThan(119);
      expect(gap!.uncertain_s).toBeLessThan(121);
    });
  });

  describe('disturbed lines', () => {
    test('damaged, repeated, swapped and merged lines: none believed, none doubled, each kept verbatim', async () => {
      plug({ speed: 20 });
      let n = 0;
      board!.disturb = (line) => {
        n++;
        if (n % 50 === 7) return line.replace(/ 2f /, ' 2e ');
        if (n % 50 === 17) return line + line;
        if (n % 50 === 27) return line.slice(0, -1);
        if (n % 50 === 37) return 'x'.repeat(5000) + '\n' + line;
        if (n % 50 === 47) return line.slice(0, 20);
        return line;
      };
      const summary = await recorded({ for_s: 20 });
      const { trace, info } = await openTrace(out);
      expect(summary.badLines).toBeGreaterThan(10);
      expect(info!.badLineCount).toBe(summary.badLines);
      expect(info!.badLines.every((bad) => bad.line.length <= 241)).toBe(true);
      expect(info!.badLines.some((bad) => /^W .* 2e /.test(bad.line) && bad.reason === 'wrong check code')).toBe(true);
      const known = new Map(board!.sent.map((w) => [w.seq, w.mean_uA / 1000]));
      const time = trace.time.kind === 'listed' ? trace.time.t_s : new Float64Array(0);
      const first = board!.sent.find((w) => w.mean_uA / 1000 === trace.mean_mA[0])!.seq;
      trace.mean_mA.forEach((mean, i) => expect(mean).toBe(known.get(first + Math.round(time[i]! / 0.05))));
      expect(time.every((t, i) => i === 0 || t > time[i - 1]!)).toBe(true);
      expect(trace.gaps.length).toBeGreaterThan(5);
      // What no line told, the running charge did: together they are what flowed, up to
      // the last line that came whole; one that is damaged at the very end has no next.
      const end = first + Math.round(time.at(-1)! / 0.05) + 1;
      expect(end - first).toBeGreaterThan(395);
      const flowed =
        [...trace.mean_mA].reduce((sum, mean, i) => sum + (mean * trace.dur_s![i]!) / 3600, 0) +
        trace.gaps.reduce((sum, gap) => sum + gap.charge_mAh!, 0);
      const true_mAh =
        board!.sent
          .filter((w) => w.seq >= first && w.seq < end)
          .reduce((sum, w) => sum + (w.mean_uA / 1000) * 0.05, 0) / 3600;
      expect(flowed / true_mAh).toBeCloseTo(1, 4);
    });
  });

  describe('what is no board, and what is taken', () => {
    const refused = async (message: RegExp, changes: Partial<RecordOptions> = {}) => {
      const error = await recorded(changes).then(
        () => null,
        (e: Error) => e,
      );
      expect(error?.message).toMatch(message);
      expect(error?.message).not.toContain('\n');
      expect(readdirSync(folder).filter((name) => name.startsWith('night'))).toEqual([]);
    };

    test('a port that is not there', () => refused(/port is not there; check that the board is plugged in/));

    // Of these the serial port package itself speaks.
    test.runIf(ways === 'real')('a file, a folder', async () => {
      writeFileSync(join(folder, 'file'), 'text');
      await refused(/file is no serial port/, { port: join(folder, 'file') });
      await refused(/is no serial port/, { port: folder });
    });

    test('a port that says nothing', async () => {
      plug();
      board!.talks = false;
      await refused(/is no nightdraw board: no hello within 5 s, and not one byte came/);
    });

    virtually('a board without a sense chip says hello, then nothing', async () => {
      plug({ speed: 40, windows: false });
      await refused(/nothing was recorded: the board at .* said hello but sent no window/, { for_s: 5 });
    });

    virtually('a port that says something else', async () => {
      plug();
      board!.talks = false;
      const stopChatter = clock().every(100, () => board?.send('$GPTXT,01,01,02,u-navigation*55\r\n'));
      await refused(
        /no hello within 5 s, only \d+ bytes of something else, such as '\$GPTXT,01,01,02,u-navigation\*55\.'/,
      );
      stopChatter();
    });

    test('a port that another program has open', async () => {
      plug();
      const first = record(options());
      await until(() => progress.length > 0, 'a first recording');
      const other = join(folder, 'other');
      await expect(recorded({ out: other })).rejects.toThrow(/is in use by another program; close that one first/);
      expect(existsSync(other)).toBe(false);
      await expect(recorded()).rejects.toThrow(/is being recorded by another nightdraw/);
      stopper.abort();
      await over(first);
    });

    test('a folder that is not there', () => refused(/cannot be written/, { out: join(folder, 'no', 'night') }));

    virtually('a lock ends with its holder', () => {
      const lock = lockCapture(out);
      expect(() => lockCapture(out)).toThrow(/being recorded/);
      lock.release();
      lockCapture(out).release();
      expect(readdirSync(folder)).toEqual([]);
    });
  });
}
