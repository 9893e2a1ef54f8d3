// Drawing 1, the wiring of the board: where things stand is drawn by hand in board.template.svg,
// what is written beside them comes from the circuit. `{R5}` becomes `R5 10 Ω`, `{=R5}` `10 Ω`.
import { readFileSync } from 'node:fs';
import { BOARD } from './board.ts';
import { valueOf } from './shape.ts';

/** @throws where the template names a part that the circuit does not have */
export function drawBoard(): string {
  const template = readFileSync(new URL('board.template.svg', import.meta.url), 'utf8');
  return template.replaceAll(/\{(=?)([A-Z]+\d+)\}/g, (_, alone: string, ref: string) => {
    const part = BOARD.parts.find((one) => one.ref === ref);
    if (part === undefined) throw new Error(`drawing 1 names ${ref}, which the board does not have`);
    return alone === '=' ? valueOf(part) : `${ref} ${valueOf(part)}`;
  });
}
