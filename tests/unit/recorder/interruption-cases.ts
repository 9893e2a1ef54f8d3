// The recorder while cables, boards and its own process come and go: what comes back, what
// is asked for again, and what stays a gap. In virtual time (interruptions.test.ts), and
// through the serial port package and a pseudo-terminal (interruptions.real.test.ts).
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { openTrace } from '../../../host/night/open.ts';
import { record } from '../../../host/recorder/record.ts';
import {
  board,
  boardAt,
  eachOnAFreshBench,
  folder,
  LATE_S,
  mostlyVirtual,
  notes,
  options,
  out,
  over,
  plug,
  progress,
  recorded,
  until,
  wait,
} from './record-bench.ts';
import type { Ways } from './record-bench.ts';

/** Says what each of them expects of a recorder in that room. */
export function interruptionCases(ways: Ways): void {
  eachOnAFreshBench(ways);
  const virtually = mostlyVirtual(ways);

  describe('windows asked back', () => {
    /** Whatever came late, the trace is what the board measured. */
    async function whole(count: number): Promise<void> {
      const { trace } = await openTrace(out);
      const means = board!.sent.map((w) => w.mean_uA / 1000);
      const first = means.indexOf(trace.mean_mA[0]!);
      expect([...trace.mean_mA]).toEqual(means.slice(first, first + count));
      expect(trace.gaps).toEqual([]);
    }
    const distinct = (window: number) => 10_000 + window;

    virtually('lines that were damaged come again: no gap is left', async () => {
      plug({ speed: 4, keeps: 80, current_uA: distinct });
      let n = 0;
      board!.disturb = (line) => (++n < 560 && (n % 23 === 5 || n % 23 === 6) ? line.slice(0, -1) : line);
      const summary = await recorded({ for_s: 30 });
      expect(summary.badLines).toBeGreaterThan(20);
      // A voltage that went with a torn line is not sent again.
      expect(summary.lostLines).toBeLessThan(5);
      await whole(600);
    });

    test('a cable that was out for a moment leaves no gap; one that was out longer leaves what the board no longer has', async () => {
      plug({ speed: 1, keeps: 40, current_uA: distinct });
      const done = record(options({ for_s: 7 }));
      await until(() => progress.some((p) => p.windows > 20), '20 windows');
      board!.unplug();
      await wait(500);
      board!.plug();
      await over(done);
      await whole(140);
    });

    virtually('over a merge of blocks and a restart of the recorder', async () => {
      plug({ speed: 40, keeps: 400, current_uA: distinct });
      let n = 0;
      board!.disturb = (line) => (++n % 300 === 5 ? line.slice(0, -1) : line);
      await expect(
        recorded({
          onProgress: (p) => {
            progress.push(p);
            if (p.windows > 4500) throw new Error('stop');
          },
        }),
      ).rejects.toThrow('stop');
      await recorded({ for_s: 300 });
      const { trace } = await openTrace(out);
      const t_s = trace.time.kind === 'listed' ? trace.time.t_s : new Float64Array(0);
      expect(t_s.every((t, i) => i === 0 || t > t_s[i - 1]!)).toBe(true);
      // Nothing doubled, nothing out of place; what is missing lies in gaps.
      trace.mean_mA.forEach((mean, i) =>
        expect(mean - trace.mean_mA[0]!).toBeCloseTo(Math.round(t_s[i]! / 0.05) / 1000, 6),
      );
      const missing = trace.gaps.reduce((sum, gap) => sum + Math.round((gap.end_s - gap.start_s) / 0.05), 0);
      expect(trace.mean_mA.length + missing).toBe(6000);
      expect(missing).toBeLessThan(200);
    });

    virtually('a board that knows no such command is asked once', async () => {
      plug({ speed: 4, current_uA: distinct });
      let n = 0;
      board!.disturb = (line) => (++n % 23 === 5 ? line.slice(0, -1) : line);
      await recorded({ for_s: 20 });
      expect(board!.heard.split('\n').filter((line) => line.startsWith('r ')).length).toBe(1);
    });
  });

  describe('interruptions', () => {
    test('cable out and in, power kept: one gap, its charge known', async () => {
      plug({ speed: 20, current_uA: () => 36_000 });
      const done = record(options({ for_s: 80 }));
      await until(() => progress.some((p) => p.windows > 100), '100 windows');
      board!.unplug();
      await until(() => notes.length >= 1, 'a note that the board is away');
      await wait(400);
      board!.plug();
      const summary = await over(done);
      expect(notes[0]).toMatch(/the board is away/);
      expect(notes.at(-1)).toMatch(/back and kept its power/);
      const { trace, info } = await openTrace(out);
      expect(info!.runs.length).toBe(1);
      expect(trace.gaps.length).toBe(1);
      const [gap] = trace.gaps;
      const missing_s = gap!.end_s - gap!.start_s;
      expect(missing_s).toBeGreaterThan(4);
      expect(gap!.charge_mAh).toBeCloseTo((36 * missing_s) / 3600, 6);
      expect(summary.lostLines).toBeLessThan(3);
      expect(summary.missing_s).toBeCloseTo(missing_s, 6);
      expect(summary.recorded_s).toBeCloseTo(80, 6);
    });

    test("the port comes back under another name: found by the board's number, one capture", async () => {
      plug({ speed: 20 });
      const path = (name: string) => ({ path: join(folder, name), about: null });
      let ports = [path('port')];
      const done = record(options({ for_s: 200, listPorts: () => Promise.resolve(ports) }));
      await until(() => progress.some((p) => p.windows > 100), '100 windows');
      board!.unplug();
      boardAt('stranger', { id: 0xbeef });
      ports = [path('stranger'), path('renamed')];
      board!.plug(join(folder, 'renamed'));
      await over(done);
      expect(notes.at(-1)).toMatch(/back and kept its power/);
      const { trace, info } = await openTrace(out);
      expect([info!.runs.length, trace.gaps.length]).toEqual([1, 1]);
    });

    test('two boards at once, one capture each', async () => {
      plug({ speed: 20, current_uA: () => 7000 });
      boardAt('port2', { id: 2, speed: 20, current_uA: () => 9000 });
      await over(
        Promise.all([
          record(options({ for_s: 20 })),
          record(options({ for_s: 20, port: join(folder, 'port2'), out: `${out}2` })),
        ]),
      );
      for (const [name, mA] of [
        [out, 7],
        [`${out}2`, 9],
      ] as const) {
        const { trace } = await openTrace(name);
        expect([trace.mean_mA.length, trace.gaps, notes, new Set(trace.mean_mA)]).toEqual([400, [], [], new Set([mA])]);
      }
    });

    virtually('a board that falls silent is looked for again', async () => {
      plug({ speed: 10 });
      const done = record(options({ for_s: 300 }));
      await until(() => progress.some((p) => p.windows > 100), '100 windows');
      board!.talks = false;
      await wait(18_000);
      board!.talks = true;
      await over(done);
      expect(notes[0]).toMatch(/the board is away \(nothing came for 15 s\)/);
      expect(notes.at(-1)).toMatch(/back and kept its power/);
      expect((await openTrace(out)).trace.gaps.length).toBe(1);
    });

    test('a reset while recording begins another run; the gap has no known charge', async () => {
      plug({ speed: 40 });
      const done = record(options({ for_s: 160 }));
      await until(() => progress.some((p) => p.windows > 100), '100 windows');
      board!.reset();
      await over(done);
      expect(notes).toEqual([
        'the board booted (it had lost its power); recording goes on, the charge across the gap is an estimate',
      ]);
      const { trace, info } = await openTrace(out);
      expect(info!.runs.map((run) => [run.reason, run.hello.boot])).toEqual([
        ['start', 1],
        ['boot', 2],
      ]);
      expect(trace.gaps.every((gap) => gap.charge_mAh === null)).toBe(true);
      expect(Math.abs(info!.duration_s - 160)).toBeLessThan(LATE_S);
      expect(trace.mean_mA.length).toBeGreaterThan(2500);
    });

    virtually('a reset whose hello was lost is found out by asking', async () => {
      plug({ speed: 40 });
      const done = record(options({ for_s: 160 }));
      await until(() => progress.some((p) => p.windows > 100), '100 windows');
      board!.reset({ announced: false });
      await over(done);
      expect((await openTrace(out)).info!.runs.map((run) => run.hello.boot)).toEqual([1, 2]);
    });

    virtually('power lost while the cable was out', async () => {
      plug({ speed: 20 });
      const done = record(options({ for_s: 80 }));
      await until(() => progress.some((p) => p.windows > 100), '100 windows');
      board!.unplug();
      board!.reset();
      await until(() => notes.length >= 1, 'a note that the board is away');
      board!.plug();
      await over(done);
      expect(notes.at(-1)).toMatch(/it was reset \(it had lost its power\): the charge across the gap is an estimate/);
      const { trace, info } = await openTrace(out);
      expect(info!.runs.length).toBe(2);
      expect(trace.gaps.map((gap) => gap.charge_mAh)).toEqual([null]);
    });

    test('an unfinished capture is resumed; a finished one, another board and another file are refused', async () => {
      plug({ speed: 40 });
      const crash = record(
        options({
          onProgress: (p) => {
            progress.push(p);
            if (p.windows > 100) throw new Error('as if the disk had refused');
          },
        }),
      );
      await expect(over(crash)).rejects.toThrow('as if the disk had refused');
      const kept = (await openTrace(out)).info!;
      expect([kept.state, kept.samples >= 100]).toEqual(['recording', true]);
      // Sooner, the lines sent meanwhile could wait in the pseudo-terminal, and there were no gap.
      await wait(300);

      const summary = await recorded({ for_s: 60 });
      expect(summary.resumedAt_s).toBeCloseTo(kept.duration_s, 6);
      // What nobody listened to was not lost on the wire.
      expect([summary.lostLines, notes.at(-1)]).toEqual([
        0,
        `going on with ${out}; the board kept its power: the charge across the gap is known`,
      ]);
      expect(summary.missing_s).toBeGreaterThan(0);
      const { trace, info } = await openTrace(out);
      expect(info).toMatchObject({ state: 'finished' });
      expect(info!.runs.length).toBe(1);
      expect(Math.abs(info!.duration_s - 60)).toBeLessThan(LATE_S);
      expect(trace.gaps.length).toBe(1);
      expect(trace.gaps[0]!.charge_mAh).toBeGreaterThan(0);
      await expect(recorded()).rejects.toThrow(/holds a finished recording; give another name/);

      writeFileSync(join(folder, 'letter'), 'Dear reader');
      await expect(recorded({ out: join(folder, 'letter') })).rejects.toThrow(/is not a capture/);
    });

    virtually('another board does not go on with an unfinished capture', async () => {
      plug({ speed: 40 });
      await expect(
        recorded({
          onProgress: (p) => {
            if (p.windows > 0) throw new Error('stop');
          },
        }),
      ).rejects.toThrow('stop');
      board!.stop();
      const before = (await openTrace(out)).info!.samples;
      plug({ speed: 40, id: 0xbeef });
      await expect(recorded({ for_s: 60 })).rejects.toThrow(/is number 0000BEEF, but .* belongs to board 000B0A4D/);
      expect((await openTrace(out)).info!.samples).toBe(before);
    });
  });
}
