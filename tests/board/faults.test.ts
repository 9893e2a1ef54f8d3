// The shipped image under faults of the sense chip, the bus and the CPU, and its
// answers to commands: PROTOCOL.md's promises, seen on the wire.
import { describe, expect, test } from 'vitest';
import { WINDOW_FLAG } from '../../host/contract/capture.ts';
import type { BoardFault } from '../../host/emulator/board.ts';
import { carOf, command, startRun } from './board-run.ts';
import type { BoardRun } from './board-run.ts';

const CAR = carOf([{ name: 'load', awake: [], asleep_mA: 75 }]);

/** Windows whose end lies in that stretch of device time. */
const windowsIn = (run: BoardRun, from_s: number, to_s: number) =>
  run.windows.filter(({ t_us }) => t_us / 1e6 > from_s && t_us / 1e6 < to_s);

const plausible = (run: BoardRun) => run.windows.every((window) => Math.abs(window.mean_uA - 75_000) < 1000);

describe('faults while it runs: a status line, no invented sample, recovery', () => {
  const cases: { fault: BoardFault; codes: string[] }[] = [
    { fault: 'unplugged', codes: ['no-conversion', 'sensor-missing'] },
    { fault: 'no-conversion', codes: ['no-conversion'] },
    { fault: 'sda-held', codes: ['bus-stuck'] },
  ];
  test.each(cases)('$fault', ({ fault, codes }) => {
    const run = startRun({ car: CAR });
    run.board.runFor(2);
    expect(run.statuses).toEqual([]);
    run.board.setFault(fault);
    run.board.runFor(4);
    expect(run.statuses.map((status) => status.code)).toEqual(codes);
    // The fault is told within a second, and what was measured before it is sent.
    expect(run.statuses[0]!.t_us / 1e6).toBeLessThan(3);
    expect(windowsIn(run, 2.2, 6)).toEqual([]);
    run.board.setFault(null);
    run.board.runFor(3);
    expect(run.statuses.at(-1)!.code).toBe('sensor-ok');
    expect(run.statuses.map((status) => status.seq)).toEqual(run.statuses.map((_, i) => i));
    const after = windowsIn(run, 6, 9);
    expect(after.length).toBeGreaterThan(30);
    expect(after.map((window) => (window.flags & WINDOW_FLAG.notJoined) !== 0)).toEqual(after.map((_, i) => i === 0));
    expect(run.windows.map((window) => window.seq)).toEqual(run.windows.map((_, i) => i));
    expect(plausible(run)).toBe(true);
    expect(run.bad).toEqual([]);
    expect(run.hellos.length).toBe(1);
    expect(run.board.stats().watchdogBites).toBe(0);
  });

  test('a chip stopped in the middle of a byte is clocked free', () => {
    const run = startRun({ car: CAR });
    run.board.runFor(2);
    run.board.setFault('sda-mid-byte');
    run.board.runFor(3);
    expect(run.statuses.at(-1)!.code).toBe('sensor-ok');
    expect(windowsIn(run, 4, 5).length).toBeGreaterThan(15);
    expect(plausible(run)).toBe(true);
  });

  test('no running charge is invented over a fault', () => {
    const run = startRun({ car: CAR });
    run.board.runFor(2);
    run.board.setFault('unplugged');
    run.board.runFor(3);
    run.board.setFault(null);
    run.board.runFor(3);
    const rejoined = run.windows.findIndex((window, i) => i > 0 && (window.flags & WINDOW_FLAG.notJoined) !== 0);
    const gained_nC = run.windows[rejoined]!.charge_nC - run.windows[rejoined - 1]!.charge_nC;
    expect(gained_nC).toBeLessThan(75e6 * 0.001 * 60); // 75 mA for a window of at most 60 ms, in nC
  });
});

describe('faults at the start', () => {
  test('no sense chip: the hello says none, a status tells it; plugged in later it is found', () => {
    const run = startRun({ car: CAR });
    run.board.setFault('unplugged');
    run.board.runFor(2);
    expect(run.hellos[0]!.sensor).toBe('none');
    expect(run.statuses[0]!.code).toBe('sensor-missing');
    expect(run.windows).toEqual([]);
    expect(run.voltages).toEqual([]);
    run.board.setFault(null);
    run.board.runFor(2);
    expect(run.statuses.at(-1)!.code).toBe('sensor-ok');
    expect(run.windows.length).toBeGreaterThan(15);
  });

  test('another chip at the address is told by its identity, and not read', () => {
    const run = startRun({ car: CAR });
    run.board.setFault('wrong-id');
    run.board.runFor(2);
    expect(run.statuses[0]).toMatchObject({ code: 'sensor-id', detail: 0x54491234 });
    expect(run.windows).toEqual([]);
  });
});

describe('boots', () => {
  test('the hello tells version, identity, shunt, speed and cause', () => {
    const run = startRun({ car: CAR, id: 0xdeadbeef, speed: 25 });
    run.board.runFor(0.1);
    expect(run.hellos).toEqual([
      expect.objectContaining({
        proto: 1,
        mcu: 'atmega328p',
        sensor: 'ina228',
        id: 0xdeadbeef,
        boot: 1,
        cause: 'power',
        shunt_nOhm: 5_000_000,
        gain_ppm: 0,
        offset_nV: 0,
        window_us: 50_000,
        stream: 'windows',
        speed: 25,
      }),
    ]);
  });

  test('pin, brown-out and power resets tell their cause and count on in EEPROM; numbers begin again', () => {
    const run = startRun({ car: CAR });
    run.board.runFor(0.5);
    for (const cause of ['pin', 'brownout', 'power'] as const) {
      run.board.reset(cause);
      run.board.runFor(0.5);
    }
    expect(run.hellos.map(({ boot, cause }) => [boot, cause])).toEqual([
      [1, 'power'],
      [2, 'pin'],
      [3, 'brownout'],
      [4, 'power'],
    ]);
    expect(run.statuses.map(({ seq, code, detail }) => [seq, code, detail])).toEqual([[0, 'brownout', 3]]);
    expect(run.windows.filter((window) => window.seq === 0).length).toBe(4);
    expect(plausible(run)).toBe(true);
  });

  test('a hung CPU: the watchdog bites within two seconds and the next hello says so', () => {
    const run = startRun({ car: CAR });
    run.board.runFor(1);
    run.board.hang();
    run.board.runFor(2.5);
    expect(run.board.stats().watchdogBites).toBe(1);
    expect(run.hellos.map(({ cause }) => cause)).toEqual(['power', 'watchdog']);
    expect(run.statuses.map(({ code, detail }) => [code, detail])).toEqual([['watchdog', 2]]);
    expect(run.windows.at(-1)!.seq).toBeLessThan(40);
    expect(run.windows.length).toBeGreaterThan(20);
    expect(plausible(run)).toBe(true);
  });
});

describe('commands', () => {
  test('ping: the device time at which the line feed arrived', () => {
    const run = startRun({ car: CAR });
    run.board.runFor(1);
    const line = command('p 1a');
    const sent_s = run.board.time_s;
    run.board.send(line);
    run.board.runFor(0.1);
    // Ten bits of 2 us for each byte; the board's clock starts 0.4 ms after power-on.
    const arrived_us = (sent_s + (line.length * 10) / 500_000) * 1e6;
    const answer = run.answers[0] as { kind: string; tag: number; value: number };
    expect(answer).toMatchObject({ kind: 'answer', tag: 0x1a });
    expect(answer.value).toBeGreaterThan(arrived_us - 1000);
    expect(answer.value).toBeLessThan(arrived_us);
  });

  test('two pings tell the time between them within 20 us', () => {
    const run = startRun({ car: CAR });
    run.board.runFor(1.0123);
    run.board.send(command('p 1'));
    run.board.runFor(3.2077);
    run.board.send(command('p 2'));
    run.board.runFor(0.1);
    const [first, second] = run.answers.map((answer) => (answer as { value: number }).value);
    expect(Math.abs(second! - first! - 3_207_700)).toBeLessThanOrEqual(20);
  });

  test('hello on request, then its answer', () => {
    const run = startRun({ car: CAR });
    run.board.runFor(0.5);
    run.board.send(command('h 7'));
    run.board.runFor(0.1);
    expect(run.hellos.length).toBe(2);
    expect(run.hellos[1]).toEqual(run.hellos[0]);
    expect(run.answers).toEqual([{ kind: 'answer', tag: 7, value: null }]);
  });

  test('damaged, unknown and out-of-range commands get one error each and change nothing', () => {
    const run = startRun({ car: CAR, id: 5 });
    run.board.runFor(0.5);
    const send = (bytes: Buffer) => {
      run.board.send(bytes);
      run.board.runFor(0.1);
    };
    send(Buffer.from('p 1 00000000\n'));
    send(command('y 2'));
    send(command('i 3 99'));
    send(Buffer.from(`${'x'.repeat(80)}\n`));
    expect(run.answers).toEqual([
      { kind: 'refusal', tag: 0, reason: 'check' },
      { kind: 'refusal', tag: 2, reason: 'unknown' },
      { kind: 'refusal', tag: 3, reason: 'range' },
      { kind: 'refusal', tag: 0, reason: 'long' },
    ]);
    run.board.reset('pin');
    run.board.runFor(0.1);
    expect(run.hellos.at(-1)!.id).toBe(5);
  });

  test('commands while it streams cost no window', () => {
    const run = startRun({ car: CAR });
    run.board.runFor(0.1);
    for (let i = 1; i <= 60; i++) {
      run.board.send(command(`p ${i.toString(16)}`));
      run.board.runFor(0.05);
    }
    run.board.runFor(0.1);
    expect(run.answers.length).toBe(60);
    expect(run.windows.map((window) => window.seq)).toEqual(run.windows.map((_, i) => i));
    expect(run.windows.filter((window) => window.flags & WINDOW_FLAG.conversionMissed)).toEqual([]);
    expect(run.bad).toEqual([]);
  });
});
