// KiCad itself opens schematic and board: its rule checks find nothing, and find what was spoiled; the
// netlist that it exports is ours, and the areas of copper fill. Where `kicad-cli` is (KiCad 7 or later; the board
// was tried with 9); Debian 12 itself has 6, without it, and newer ones take 600 MB, so that no test installs it.
import { spawnSync } from 'node:child_process';
import { cpSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { BOARD } from '../../../firmware/circuit/board.ts';
import { madeLayout } from '../../../firmware/circuit/make.ts';
import { KICAD_PYTHON, plotted } from '../../../firmware/circuit/plot.ts';
import { OPEN } from '../../../firmware/circuit/shape.ts';

const isThere = spawnSync('kicad-cli', ['version']).status === 0;

const FILES = [
  'board.kicad_sch',
  'board.kicad_pcb',
  'board.kicad_dru',
  'board.kicad_pro',
  'nightdraw.kicad_sym',
  'sym-lib-table',
];
const hasModule = isThere && spawnSync(KICAD_PYTHON, ['-c', 'import pcbnew']).status === 0;

describe.skipIf(!isThere)('KiCad', () => {
  let folder: string;
  const kicad = (...args: string[]) => {
    const { status, stderr } = spawnSync('kicad-cli', args, { cwd: folder, encoding: 'utf8' });
    return { status, stderr };
  };

  beforeAll(() => {
    folder = mkdtempSync(join(tmpdir(), 'nightdraw-kicad-'));
    const from = new URL('../../../firmware/circuit/', import.meta.url);
    for (const name of FILES) cpSync(new URL(name, from), join(folder, name));
  });

  afterAll(() => {
    rmSync(folder, { recursive: true, force: true });
  });

  const check = (sheet: string) => {
    const { status } = kicad('sch', 'erc', '--severity-all', '--exit-code-violations', '--output', 'erc.txt', sheet);
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
    expect(kicad('sch', 'export', 'netlist', '--output', 'board.net', 'board.kicad_sch').status).toBe(0);
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

  describe('the board', () => {
    /** What KiCad complains of, one `type` a line; a board of its own has the same project and rules. */
    const complaints = (name: string): string[] => {
      const base = name.replace('.kicad_pcb', '');
      for (const end of ['kicad_pro', 'kicad_dru'])
        if (base !== 'board') cpSync(join(folder, `board.${end}`), join(folder, `${base}.${end}`));
      kicad('pcb', 'drc', '--severity-all', '--format', 'json', '--output', 'drc.json', name);
      const report = JSON.parse(readFileSync(join(folder, 'drc.json'), 'utf8')) as Record<
        'violations' | 'unconnected_items',
        { type: string; description: string }[]
      >;
      return [...report.violations, ...report.unconnected_items].map((one) => `${one.type}: ${one.description}`);
    };
    const spoiled = (change: (text: string) => string): string[] => {
      const text = readFileSync(join(folder, 'board.kicad_pcb'), 'utf8');
      const changed = change(text);
      expect(changed).not.toBe(text);
      writeFileSync(join(folder, 'spoiled.kicad_pcb'), changed);
      return complaints('spoiled.kicad_pcb');
    };
    const anyTrack = (text: string, net: string) => {
      const number = new RegExp(`^ {2}\\(net (\\d+) "${net}"\\)$`, 'm').exec(text)![1]!;
      return new RegExp(`\\n {2}\\(segment .*\\(net ${number}\\).*`).exec(text)![0];
    };

    test('the files are what firmware/circuit/make.ts writes', () => {
      for (const [name, text] of Object.entries(madeLayout()))
        expect(readFileSync(new URL(`../../../firmware/${name}`, import.meta.url), 'utf8') === text, name).toBe(true);
    });

    test('the rule check finds nothing, neither error nor warning', () => {
      expect(complaints('board.kicad_pcb')).toEqual([]);
    });

    test('a track left out, one too narrow, one across others, and one in the gap are found', () => {
      expect(spoiled((text) => text.replace(anyTrack(text, 'SDA'), ''))).toContainEqual(
        expect.stringMatching(/^unconnected_items/),
      );
      expect(spoiled((text) => text.replace('(width 0.3)', '(width 0.2)'))).toContainEqual(
        expect.stringMatching(/^track_width: .*min width 0\.3000/),
      );
      const moved = (to: string) => (text: string) => {
        const track = anyTrack(text, 'SUPPLY');
        return text.replace(track, track.replace(/\(end [^)]*\)/, `(end ${to})`));
      };
      expect(spoiled(moved('110 90'))).toContainEqual(
        expect.stringMatching(/^(shorting_items|tracks_crossing|clearance)/),
      );
      expect(spoiled(moved('130 75'))).toContainEqual(expect.stringMatching(/^clearance: .*computer's side/));
    });

    test.skipIf(!hasModule)('plotted again, the files are the same byte for byte', () => {
      const plots = new URL('../../../firmware/circuit/plots/', import.meta.url);
      const kept = Object.fromEntries(
        readdirSync(plots).map((name) => [name, readFileSync(new URL(name, plots), 'utf8')]),
      );
      const now = plotted();
      expect(Object.keys(now)).toEqual(Object.keys(kept).toSorted());
      for (const [name, text] of Object.entries(now)) expect(text === kept[name], name).toBe(true);
    });

    test.skipIf(!hasModule)('its areas fill, and nothing is wrong with them', () => {
      const script = `import pcbnew
board = pcbnew.LoadBoard('board.kicad_pcb')
pcbnew.ZONE_FILLER(board).Fill(board.Zones())
for zone in board.Zones():
    print(zone.GetNetname(), round(zone.GetFilledArea() / 1e12, 0))
pcbnew.SaveBoard('filled.kicad_pcb', board)`;
      const { status, stdout, stderr } = spawnSync(KICAD_PYTHON, ['-c', script], { cwd: folder, encoding: 'utf8' });
      expect(status, stderr).toBe(0);
      const areas_mm2 = Object.fromEntries(
        stdout
          .trim()
          .split('\n')
          .map((line) => line.split(' '))
          .map(([net, size]) => [net!, Number(size)]),
      );
      expect(areas_mm2['GND']).toBeGreaterThan(3000);
      expect(areas_mm2['USB_GND']).toBeGreaterThan(1000);
      expect(areas_mm2['USB_5V']).toBeGreaterThan(10);
      expect(complaints('filled.kicad_pcb')).toEqual([]);
    });
  });
});
