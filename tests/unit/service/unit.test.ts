// What `always-on` writes, by itself: names and sections of the unit, signs in a command line,
// and what the service would not see. The programs that read it: unit.real.test.ts.
import { expect, test } from 'vitest';
import { outOfReach } from '../../../host/commands/always-on.ts';
import { rulesFile } from '../../../host/service/rules.ts';
import { quoted, unitFile } from '../../../host/service/unit.ts';

/** Names as in systemd.unit(5), systemd.service(5), systemd.exec(5) and systemd.resource-control(5). */
const KEYS: Record<string, string[]> = {
  Unit: ['Description', 'After', 'Wants', 'StartLimitIntervalSec'],
  Service: [
    'Type',
    'ExecStart',
    'Restart',
    'RestartSec',
    'TimeoutStopSec',
    'OOMScoreAdjust',
    'Nice',
    'DynamicUser',
    'SupplementaryGroups',
    'StateDirectory',
    'ConfigurationDirectory',
    'WorkingDirectory',
    'Environment',
    'UMask',
    'DevicePolicy',
    'DeviceAllow',
    'CapabilityBoundingSet',
    'NoNewPrivileges',
    'ProtectSystem',
    'ProtectHome',
    'PrivateTmp',
    'PrivateMounts',
    'ProtectClock',
    'ProtectControlGroups',
    'ProtectHostname',
    'ProtectKernelLogs',
    'ProtectKernelModules',
    'ProtectKernelTunables',
    'ProtectProc',
    'LockPersonality',
    'RestrictAddressFamilies',
    'RestrictNamespaces',
    'RestrictRealtime',
    'RestrictSUIDSGID',
    'SystemCallArchitectures',
    'SystemCallFilter',
    'SystemCallErrorNumber',
  ],
  Install: ['WantedBy'],
};

test('sections in order, known names alone, each once but for lists', () => {
  const bad: string[] = [],
    sections: string[] = [],
    seen = new Set<string>();
  for (const line of unitFile({ command: ['/bin/true', 'serve'], lan: true, group: 'dialout' }).split('\n')) {
    const [, section] = /^\[(\w+)\]$/.exec(line) ?? [],
      [, key, value] = /^(\w+)=(.*)$/.exec(line) ?? [];
    if (section !== undefined) sections.push(section);
    else if (key === undefined) bad.push(...(line === '' || line.startsWith('#') ? [] : [line]));
    else {
      if (
        KEYS[sections.at(-1) ?? '']?.includes(key) !== true ||
        (seen.has(key) && !['DeviceAllow', 'SystemCallFilter'].includes(key))
      )
        bad.push(line);
      if ((value === '') !== (key === 'CapabilityBoundingSet')) bad.push(line);
      seen.add(key);
    }
  }
  expect([bad, sections]).toEqual([[], ['Unit', 'Service', 'Install']]);
  expect(
    Object.values(KEYS)
      .flat()
      .filter((key) => !seen.has(key)),
  ).toEqual([]);
  expect(
    rulesFile()
      .split('\n')
      .filter((line) => line !== '' && !line.startsWith('#')),
  ).toEqual([expect.stringMatching(/^(?:[A-Z]+(?:\{\w+\})?(?:==|\+=)"[^"]+"(?:, |$))+$/)]);
});

test('words of the command line keep their signs', () => {
  expect(['/usr/bin/node', '/opt/a b/100%/$x "y"\\z'].map(quoted)).toEqual([
    '/usr/bin/node',
    '"/opt/a b/100%%/$$x \\"y\\"\\\\z"',
  ]);
});

test('a program that the service cannot see is told of', () => {
  expect(outOfReach('/usr/bin/node', '/usr/lib/node_modules/nightdraw/.build/host/main.js')).toBe('');
  for (const path of ['home/a', 'root', 'tmp'].map((folder) => `/${folder}/x.js`))
    expect(outOfReach('/usr/bin/node', path)).toContain(path);
});
