// The code to scan (ISO/IEC 18004), drawn by ourselves: as one SVG path, and as blocks
// for a terminal.

import qrcode from 'qrcode-generator';

/** Modules left blank around it (ISO/IEC 18004: four). */
const QUIET = 4;

/** Rows of modules, true for dark, without the quiet zone. */
export function modulesOf(text: string): boolean[][] {
  const code = qrcode(0, 'M');
  code.addData(text);
  code.make();
  const size = code.getModuleCount();
  return Array.from({ length: size }, (_, row) =>
    Array.from({ length: size }, (_, column) => code.isDark(row, column)),
  );
}

/** Black on white whatever the page's colours: scanners expect it so. */
export function svgOf(text: string): string {
  const modules = modulesOf(text);
  const size = modules.length + 2 * QUIET;
  let path = '';
  modules.forEach((row, y) => {
    for (let x = 0; x < row.length; x++) {
      if (!row[x]) continue;
      let end = x;
      while (row[end + 1]) end++;
      path += `M${x + QUIET} ${y + QUIET}h${end - x + 1}v1h-${end - x + 1}z`;
      x = end;
    }
  });
  return (
    `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${size} ${size}" shape-rendering="crispEdges" role="img" aria-label="Code to scan with the tablet or phone">` +
    `<path fill="#fff" d="M0 0h${size}v${size}h-${size}z"/><path fill="#000" d="${path}"/></svg>`
  );
}

/** Two rows of modules in a line of half blocks, dark on a light ground by colours of its own. */
export function blocksOf(text: string): string {
  const modules = modulesOf(text);
  const size = modules.length + 2 * QUIET;
  const dark = (x: number, y: number) => modules[y - QUIET]?.[x - QUIET] ?? false;
  const lines: string[] = [];
  for (let y = 0; y < size; y += 2) {
    let line = '';
    for (let x = 0; x < size; x++) line += dark(x, y) ? (dark(x, y + 1) ? '█' : '▀') : dark(x, y + 1) ? '▄' : ' ';
    // Black on bright white, whatever the terminal's own colours are.
    lines.push(`\u001b[30;107m${line}\u001b[0m`);
  }
  return lines.join('\n');
}
