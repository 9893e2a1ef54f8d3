// What may end a night early on this computer, looked for before it begins. Linux alone
// tells it in files; elsewhere the user is reminded where to look.

import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';

/** @param root where the system's files lie: `/`, or a folder of a test */
export function preflight(platform: NodeJS.Platform, root = '/'): string[] {
  if (platform === 'win32')
    return [
      'before the night: switch off sleep in the power plan, pause updates that restart the computer, and switch off "USB selective suspend"',
    ];
  if (platform !== 'linux') return [];
  const read = (...path: string[]) => {
    try {
      return readFileSync(join(root, ...path), 'utf8').trim();
    } catch {
      return null;
    }
  };
  const list = (...path: string[]) => {
    try {
      return readdirSync(join(root, ...path));
    } catch {
      return [];
    }
  };
  const warnings: string[] = [];
  if (read('run/systemd/shutdown/scheduled') !== null)
    warnings.push("a shutdown of this computer is scheduled; 'shutdown -c' takes it back");
  const reboots = list('etc/apt/apt.conf.d').some((name) =>
    /^\s*Unattended-Upgrade::Automatic-Reboot\s+"true"/m.test(read('etc/apt/apt.conf.d', name) ?? ''),
  );
  if (reboots)
    warnings.push(
      'this computer restarts by itself after updates (Automatic-Reboot in /etc/apt/apt.conf.d); switch that off for tonight',
    );
  const supplies = list('sys/class/power_supply').map(
    (name) => (key: string) => read('sys/class/power_supply', name, key),
  );
  const mains = supplies.filter((supply) => supply('type') === 'Mains');
  if (mains.length > 0 && mains.every((supply) => supply('online') === '0')) {
    const percent = supplies.find((supply) => supply('type') === 'Battery')?.('capacity');
    warnings.push(`this computer runs on its battery${percent ? ` (${percent} %)` : ''}; see that it lasts the night`);
  }
  return warnings;
}
