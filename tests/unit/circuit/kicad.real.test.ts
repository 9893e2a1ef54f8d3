// KiCad itself opens the schematic: its rule check finds nothing, and the netlist that it exports is
// ours. Where `kicad-cli` is (KiCad 7 or later); Debian 12 itself has 6, without it, and newer
// ones take 600 MB, so that no test installs it.
import { spawnSync } from 'node:child_process';
import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { BOARD } from '../../../firmware/circuit/board.ts';
import { OPEN } from '../../../firmware/circuit/shape.ts';

const isThere = spawnSync('kicad-cli', ['version']).status === 0;

describe.skipIf(!isThere)('KiCad', () => {
  let folder: string;
  const kicad = (...args: string[]) => {
    const { status, stderr } = spawnSync('kicad-cli', ['sch', ...args], { cwd: folder, encoding: 'utf8' });
    return { status, stderr };
  };

  beforeAll(() => {
    folder = mkdtempSync(join(tmpdir(), 'nightdraw-kicad-'));
    const from = new URL('../../../firmware/circuit/', import.meta.url);
    for (const name of ['board.kicad_sch', 'board.kicad_pro', 'nightdraw.kicad_sym', 'sym-lib-table'])
      cpSync(new URL(name, from), join(folder, name));
  });

  afterAll(() => {
    rmSync(folder, { recursive: true, force: true });
  });

  const check = (sheet: string) => {
    const { status } = kicad('erc', '--severity-all', '--exit-code-violations', '--output', 'erc.txt', sheet);
    return { status, report: readFileSync(join(folder, 'erc.txt'), 'utf8') };
  };

  test('the rule check finds neither error nor warning, and finds a pin that was left alone', () => {
    const { status, report } = check('board.kicad_sch');
    expect(report).toContain('ERC messages: 0');
    expect(status).toBe(0);
    const sheet = readFileSync(join(folder, 'board.kicad_sch'), 'utf8');
    writeFileSync(join(folder, 'spoiled.kicad_sch'), sheet.replace(/\(no_connect[\s\S]*?\(uuid [^)]*\)\)/, ''));
    const spoiled = check('spoiled.kicad_sch');
    expect(spoiled.report).toContain('pin_not_connected');
    expect(spoiled.status).not.toBe(0);
  });

  test('the netlist that it exports is that of the circuit', () => {
    expect(kicad('export', 'netlist', '--output', 'board.net', 'board.kicad_sch').status).toBe(0);
    const text = readFileSync(join(folder, 'board.net'), 'utf8');
    const exported = text
      .split(/\(net\s+\(code/)
      .slice(1)
      .map((net) => ({
        name: /\(name "\/?([^"]*)"\)/.exec(net)![1]!,
        pins: [...net.matchAll(/\(node\s+\(ref "([^"]*)"\)\s+\(pin "([^"]*)"\)/g)].map(
          ([, ref, pin]) => `${ref}.${pin}`,
        ),
      }))
      .filter((net) => !net.name.startsWith('unconnected-'));
    const ours = BOARD.nets.map(({ name }) => ({
      name,
      pins: BOARD.parts.flatMap((part) =>
        Object.entries(part.on).flatMap(([pin, net]) => (net === name && net !== OPEN ? [`${part.ref}.${pin}`] : [])),
      ),
    }));
    const sorted = (nets: typeof ours) =>
      nets.map(({ name, pins }) => `${name}: ${pins.toSorted().join(' ')}`).toSorted();
    expect(sorted(exported)).toEqual(sorted(ours));
  });
});
