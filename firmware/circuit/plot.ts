// What a board house makes the board from: Gerber (X2) and drill files, plotted by KiCad 9 from
// board.kicad_pcb with its areas filled: `node --import tsx firmware/circuit/plot.ts`. A test plots them again and
// compares byte for byte.
import { spawnSync } from 'node:child_process';
import { cpSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath, pathToFileURL } from 'node:url';

const CIRCUIT = new URL('./', import.meta.url);
/** KiCad's own Python module, which Debian's package brings: `kicad-cli` cannot fill areas. */
export const KICAD_PYTHON = '/usr/bin/python3';
const LAYERS = 'F.Cu,B.Cu,F.Mask,B.Mask,F.Paste,F.Silkscreen,Edge.Cuts';
const FILL = `import pcbnew
board = pcbnew.LoadBoard('board.kicad_pcb')
pcbnew.ZONE_FILLER(board).Fill(board.Zones())
pcbnew.SaveBoard('nightdraw.kicad_pcb', board)`;

/** Lines with the time of plotting, which no board house needs. */
const HAS_TIME = /TF\.CreationDate|^G04 Created by KiCad|^; DRILL file/;

/**
 * The files of the board as it stands, name -> text.
 * @throws Error with what KiCad said where it is not there, or refuses
 */
export function plotted(): Record<string, string> {
  const folder = mkdtempSync(join(tmpdir(), 'nightdraw-plot-'));
  const run = (program: string, ...args: string[]) => {
    const { status, stdout, stderr, error } = spawnSync(program, args, { cwd: folder, encoding: 'utf8' });
    if (status !== 0) throw new Error(`${program}: ${error?.message ?? stdout + stderr}`);
  };
  try {
    for (const end of ['pcb', 'pro', 'dru'])
      cpSync(fileURLToPath(new URL(`board.kicad_${end}`, CIRCUIT)), join(folder, `board.kicad_${end}`));
    run(KICAD_PYTHON, '-c', FILL);
    run('kicad-cli', 'pcb', 'export', 'gerbers', '--output', 'plots', '--layers', LAYERS, 'nightdraw.kicad_pcb');
    run('kicad-cli', 'pcb', 'export', 'drill', '--output', 'plots/', 'nightdraw.kicad_pcb');
    return Object.fromEntries(
      readdirSync(join(folder, 'plots'))
        .filter((name) => !name.endsWith('.gbrjob'))
        .toSorted()
        .map((name) => {
          const lines = readFileSync(join(folder, 'plots', name), 'utf8').split('\n');
          return [name, lines.filter((line) => !HAS_TIME.test(line)).join('\n')];
        }),
    );
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

if (process.argv[1] !== undefined && import.meta.url === pathToFileURL(process.argv[1]).href) {
  const plots = new URL('plots/', CIRCUIT);
  rmSync(plots, { recursive: true, force: true });
  mkdirSync(plots);
  for (const [name, text] of Object.entries(plotted())) writeFileSync(new URL(name, plots), text);
}
