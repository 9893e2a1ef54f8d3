// The unit and the rule against the programs that will read them: systemd-analyze verifies
// and rates the unit, udevadm applies the rule to a made-up USB converter in a namespace of its own.
import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { rulesFile } from '../../../host/service/rules.ts';
import { unitFile } from '../../../host/service/unit.ts';

let folder: string;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'nightdraw-service-'));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const unit = (lan: boolean, changed: (text: string) => string = (text) => text) => {
  const path = join(folder, 'nightdraw.service');
  writeFileSync(
    path,
    changed(
      unitFile({
        command: ['/bin/true', 'serve', '--unattended', '--dir', '/var/lib/nightdraw/captures'],
        lan,
        group: 'dialout',
      }),
    ),
  );
  return path;
};

describe('systemd', () => {
  const verify = (path: string) => {
    const { status, stdout, stderr } = spawnSync('systemd-analyze', ['--man=no', 'verify', path], { encoding: 'utf8' });
    return [status, stdout + stderr];
  };

  test('finds nothing wrong with the unit, and would', () => {
    for (const lan of [false, true]) expect(verify(unit(lan))).toEqual([0, '']);
    expect(verify(unit(false, (text) => text.replace('ProtectHome=yes', 'ProtectHome=perhaps')))[1]).toContain(
      'perhaps',
    );
  });

  test('rates its exposure at 1.5 of 10, and far worse without the hardening', () => {
    const exposure = (path: string) =>
      Number(
        /exposure level for \S+: ([\d.]+)/.exec(
          spawnSync('systemd-analyze', ['security', '--offline=true', path], { encoding: 'utf8' }).stdout,
        )?.[1],
      );
    expect(exposure(unit(true))).toBeLessThanOrEqual(1.6);
    expect(
      exposure(
        unit(true, (text) => text.replace(/^(Protect|Private|Restrict|SystemCall|Capability|NoNew|Dynamic).*\n/gm, '')),
      ),
    ).toBeGreaterThan(7);
  });
});

/** A kernel's files for a USB converter and a console, seen by nobody but the program that runs in it. */
const MADE_UP = `set -e
mount -t tmpfs none /run; mkdir -p /run/udev/rules.d; cp "$1" /run/udev/rules.d/60-nightdraw.rules
mount -t tmpfs none /sys
usb=/sys/devices/usb1/1-1; port=$usb/1-1:1.0/ttyUSB0; tty=$port/tty/ttyUSB0; console=/sys/devices/virtual/tty/tty7
mkdir -p $tty $console /sys/class/tty /sys/bus/usb /sys/bus/usb-serial
printf 'MAJOR=188\\nMINOR=0\\nDEVNAME=ttyUSB0\\n' > $tty/uevent; ln -s /sys/class/tty $tty/subsystem
printf 'MAJOR=4\\nMINOR=7\\nDEVNAME=tty7\\n' > $console/uevent; ln -s /sys/class/tty $console/subsystem
printf 'DEVTYPE=usb_device\\n' > $usb/uevent; ln -s /sys/bus/usb $usb/subsystem
printf 'DEVTYPE=usb_interface\\n' > $usb/1-1:1.0/uevent; ln -s /sys/bus/usb $usb/1-1:1.0/subsystem
printf '\\n' > $port/uevent; ln -s /sys/bus/usb-serial $port/subsystem
export SYSTEMD_DEVICE_VERIFY_SYSFS=0
for what in remove add; do for device in $tty $console; do echo "== $what \${device##*/}"; udevadm test --action=$what \${device#/sys} 2>&1 || true; done; done`;

/** Mounting takes root. */
const inNamespace = spawnSync('unshare', ['-m', 'true']).status === 0;

describe.skipIf(!inNamespace)('udev', () => {
  const applied = (rules: string) => {
    const path = join(folder, 'rules');
    writeFileSync(path, rules);
    const { stdout, status } = spawnSync('unshare', ['-m', 'sh', '-c', MADE_UP, 'sh', path], { encoding: 'utf8' });
    expect(status).toBe(0);
    return stdout;
  };
  const wanted = (said: string) =>
    said
      .split(/^== /m)
      .slice(1)
      .filter((part) => part.includes('SYSTEMD_WANTS=nightdraw.service'))
      .map((part) => part.split('\n')[0]);

  test('the service is wanted when a USB converter comes, and for nothing else', () => {
    const said = applied(rulesFile());
    expect(said).toContain('Reading rules file: /run/udev/rules.d/60-nightdraw.rules');
    expect(said).not.toMatch(/60-nightdraw\.rules:\d/);
    expect(wanted(said)).toEqual(['add ttyUSB0']);
  });

  test('a rule that is not in order is complained of', () => {
    expect(applied(rulesFile().replace('ACTION==', 'ACTOIN=='))).toMatch(/60-nightdraw\.rules:\d/);
  });
});
