// What the recorder watches beside the readings: sleep of the computer, set clocks,
// the battery, the computer before the night, and that it is kept awake.
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { describe, expect, test } from 'vitest';
import { VirtualTime } from '../../virtual-time.ts';
import { holdCommand, keepAwake } from '../../../host/recorder/awake.ts';
import { roomBefore, roomNow, STOP_BELOW_BYTES } from '../../../host/recorder/disk.ts';
import { LiveFeed } from '../../../host/recorder/live.ts';
import { LowBattery } from '../../../host/recorder/low-battery.ts';
import { preflight } from '../../../host/recorder/preflight.ts';
import { away, SleepWatch } from '../../../host/recorder/slept.ts';

function clocks() {
  const at = { mono: 100, up: 500, wall: 1e9 };
  return {
    at,
    clock: { ...new VirtualTime(), now_us: () => at.mono * 1e6, up_s: () => at.up, wall_ms: () => at.wall * 1000 },
  };
}

describe('sleep', () => {
  const tick = (at: { mono: number; up: number; wall: number }, mono: number, up = mono, wall = up) => {
    at.mono += mono;
    at.up += up;
    at.wall += wall;
  };

  test('the uptime tells its length, however the wall clock was set meanwhile', () => {
    const { at, clock } = clocks();
    const watch = new SleepWatch(clock);
    tick(at, 0.5);
    expect(watch.look()).toBeNull();
    tick(at, 0.5, 3600.5, 7200.5);
    expect(watch.look()).toMatchObject({ length_s: expect.closeTo(3600, 6) as number, uncertain_s: 0.05 });
    tick(at, 0.5);
    expect(watch.look()).toBeNull();
  });

  test('a clock that is set is no sleep, a busy second neither', () => {
    const { at, clock } = clocks();
    const watch = new SleepWatch(clock);
    for (const step of [3600, -3600, 0.5, -0.5]) {
      tick(at, 0.5, 0.5, 0.5 + step);
      expect(watch.look()).toBeNull();
    }
    tick(at, 2);
    expect(watch.look()).toBeNull();
  });

  test('away: the uptime where both agree, doubt where they do not, the wall clock alone after a restart', () => {
    const then = { axis_us: 0, wall_ms: 1e12, up_s: 500 };
    const now = (up_s: number, wall_s: number) =>
      away(then, { ...new VirtualTime(), up_s: () => up_s, wall_ms: () => 1e12 + wall_s * 1000 });
    expect(now(1100, 600.3)).toEqual({ length_s: 600, uncertain_s: expect.closeTo(0.3, 6) as number });
    expect(now(1100, 4200)).toEqual({ length_s: 4200, uncertain_s: 3600 });
    expect(now(30, 900)).toEqual({ length_s: 900, uncertain_s: null });
    expect(now(30, -50)).toEqual({ length_s: 0, uncertain_s: null });
  });
});

test('the battery: said once, again only after it was well above', () => {
  const low = new LowBattery(12);
  const said = [12.4, 12.01, 12, 11.9, 12.05, 11.95, 12.2, 11.99].map((volts) => low.take(volts) !== null);
  expect(said).toEqual([false, false, true, false, false, false, false, true]);
  expect(new LowBattery(null).take(3)).toBeNull();
  expect(new LowBattery(12).take(11.5)).toMatch(/down to 11\.50 V \(limit 12\.00 V\)/);
});

test('room on the disk: refused, warned of, ended', () => {
  const disk = (free: number | null) => ({ free: () => free, identity: () => '' });
  expect(roomBefore(disk(null), 'x', 3600)).toBeNull();
  expect(roomBefore(disk(1e9), 'x', 36_000)).toBeNull();
  expect(roomBefore(disk(12e6), 'x', 36_000)).toMatch(/12 MB are free .* enough for about 3\.7 h/);
  expect(() => roomBefore(disk(STOP_BELOW_BYTES - 1), 'x', 60)).toThrow(
    /8 MB are free on its disk, and 8 MB are the least/,
  );
  expect([roomNow(disk(null), 'x'), roomNow(disk(STOP_BELOW_BYTES), 'x')]).toEqual([null, null]);
  expect(roomNow(disk(1e6), 'x')).toMatch(/recording ended: 1 MB are left/);
});

test('a listener that fails is let go of; the others hear on', () => {
  const feed = new LiveFeed();
  const heard: number[] = [];
  feed.subscribe(() => {
    throw new Error('no');
  });
  const end = feed.subscribe(({ t_s }) => heard.push(t_s!));
  const reading = { kind: 'status', seq: 0, t_us: 1, code: 'x', detail: 0 } as const;
  feed.publish({ reading, t_s: 1, late: false });
  end();
  feed.publish({ reading, t_s: 2, late: false });
  expect(heard).toEqual([1]);
});

describe('before the night', () => {
  test('what Linux tells in files', () => {
    const root = mkdtempSync(join(tmpdir(), 'nightdraw-preflight-'));
    const put = (path: string, text: string) => {
      mkdirSync(dirname(join(root, path)), { recursive: true });
      writeFileSync(join(root, path), text);
    };
    expect(preflight('linux', root)).toEqual([]);
    put('sys/class/power_supply/AC/type', 'Mains\n');
    put('sys/class/power_supply/AC/online', '1\n');
    put('etc/apt/apt.conf.d/50', '//Unattended-Upgrade::Automatic-Reboot "true";\n');
    expect(preflight('linux', root)).toEqual([]);
    put('sys/class/power_supply/AC/online', '0\n');
    put('sys/class/power_supply/BAT0/type', 'Battery\n');
    put('sys/class/power_supply/BAT0/capacity', '42\n');
    put('etc/apt/apt.conf.d/51', 'Unattended-Upgrade::Automatic-Reboot "true";\n');
    put('run/systemd/shutdown/scheduled', 'USEC=1\n');
    const said = preflight('linux', root).join('\n');
    expect(said).toMatch(/shutdown of this computer is scheduled[^]*Automatic-Reboot[^]*runs on its battery \(42 %\)/);
    rmSync(root, { recursive: true });
  });

  test('kept awake by a child that ends with the recorder; told where that is not possible', async () => {
    const notes: string[] = [];
    const held = keepAwake(['cat', []], (text) => notes.push(text));
    held.stop();
    await held.ended;
    expect(notes).toEqual([]);
    const tries = [['no-such-program', []], ['false', []], null] as const;
    await Promise.all(
      tries.map(
        (command) =>
          keepAwake(command === null ? null : [command[0], [...command[1]]], (text) => notes.push(text)).ended,
      ),
    );
    expect(notes).toHaveLength(3);
    for (const note of notes) expect(note).toMatch(/cannot be kept awake from here .* set it not to sleep tonight/);
    expect(['linux', 'darwin', 'win32'].map((platform) => holdCommand(platform as NodeJS.Platform)?.[0])).toEqual([
      'systemd-inhibit',
      'caffeinate',
      'powershell',
    ]);
    expect(holdCommand('aix')).toBeNull();
  });
});
