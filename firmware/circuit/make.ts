// Writes everything that is made of the circuit: `node --import tsx firmware/circuit/make.ts`. A
// test makes it again and compares byte for byte.
import { readFileSync, writeFileSync } from 'node:fs';
import { pathToFileURL } from 'node:url';
import { KICAD_RULES, kicadBoard, routedBoard } from './board-layout.ts';
import { BOARD } from './board.ts';
import { layoutRules } from './copper.ts';
import { drawBoard } from './drawing.ts';
import { ohmsTable, voltsTable } from './first-check.ts';
import { KICAD_TABLE, kicadLibrary, kicadSchematic } from './kicad.ts';
import { drawModules } from './modules-drawing.ts';
import { MODULES_CIRCUIT } from './modules.ts';
import { boardsTable } from './monte-carlo.ts';
import { layoutSaid } from './placement.ts';
import { errorsTable, wiringTable } from './second-way.ts';
import { accidentsList } from './spice-cases.ts';
import * as tables from './tables.ts';

const FIRMWARE = new URL('../', import.meta.url);

/** Puts `body` between `<!-- made: NAME -->` and `<!-- end of NAME -->`. @throws where they are missing */
function withMade(text: string, name: string, body: string): string {
  const [open, close] = [`<!-- made: ${name} -->\n`, `<!-- end of ${name} -->`];
  const from = text.indexOf(open);
  const to = text.indexOf(close);
  if (from < 0 || to < from) throw new Error(`no marks for ${name}`);
  return text.slice(0, from + open.length) + '\n' + body + '\n' + text.slice(to);
}

const CIRCUIT_PAGE = `# The circuit in full

Made by \`firmware/circuit/make.ts\` from \`board.ts\` and \`modules.ts\` there; what the parts are for
stands in BOARD.md. Where each number comes from is in \`circuit/given.ts\`; \`memory\` there means
that no source was at hand. Worked out, not measured: nobody has built the board yet.

## The board: nets

${tables.netsTable(BOARD)}
## The board: what each part bears

${tables.ratingsTable(BOARD)}
## What the board does not bear

${tables.notBorne()}
## With ready-made modules: what each part bears

${tables.ratingsTable(MODULES_CIRCUIT)}`;

/** File below firmware/ -> what must stand in it. */
export function made(): Record<string, string> {
  const page = readFileSync(new URL('BOARD.md', FIRMWARE), 'utf8');
  const parts = {
    parts: tables.partsTable(BOARD),
    pins: tables.pinsTable(BOARD, 'U2'),
    ohms: ohmsTable(BOARD),
    volts: voltsTable(),
    errors: errorsTable(),
    boards: boardsTable(),
    accidents: accidentsList(),
    layout: layoutRules(),
    board: layoutSaid(),
    modules: tables.partsTable(MODULES_CIRCUIT),
    wiring: wiringTable(MODULES_CIRCUIT),
  };
  return {
    'BOARD.md': Object.entries(parts).reduce((text, [name, body]) => withMade(text, name, body), page),
    'CIRCUIT.md': CIRCUIT_PAGE,
    'board.svg': drawBoard(),
    'modules.svg': drawModules(),
    'circuit/board-parts.csv': tables.partsCsv(BOARD),
    'circuit/board-netlist.csv': tables.netlistCsv(BOARD),
    'circuit/board.kicad_sch': kicadSchematic(BOARD, 'nightdraw: the board'),
    'circuit/nightdraw.kicad_sym': kicadLibrary(BOARD),
    'circuit/sym-lib-table': KICAD_TABLE,
    // Without a project file KiCad reads no table beside the sheet.
    'circuit/board.kicad_pro': '{}\n',
    'circuit/modules-parts.csv': tables.partsCsv(MODULES_CIRCUIT),
    'circuit/modules-netlist.csv': tables.netlistCsv(MODULES_CIRCUIT),
  };
}

/** The same of the layout, which takes some seconds: its ways are searched. */
export const madeLayout = (): Record<string, string> => ({
  'circuit/board.kicad_pcb': kicadBoard(routedBoard()),
  'circuit/board.kicad_dru': KICAD_RULES,
});

if (process.argv[1] !== undefined && import.meta.url === pathToFileURL(process.argv[1]).href)
  for (const [name, text] of Object.entries({ ...made(), ...madeLayout() }))
    writeFileSync(new URL(name, FIRMWARE), text);
