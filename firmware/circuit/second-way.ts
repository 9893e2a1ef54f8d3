// The tables that BOARD.md has for the second way: its wiring, and the error budget of both beside
// each other.
import { ERRORS, remaining } from './errors.ts';
import type { Way } from './errors.ts';
import { connections } from './shape.ts';
import type { Circuit } from './shape.ts';
import { carrier, table } from './tables.ts';

/** One lead a line, as somebody solders it. */
export function wiringTable(circuit: Circuit): string {
  const rows = circuit.nets.map((net) => [
    net.name,
    connections(circuit, net.name)
      .map(({ part, pin }) => (part.pins.length > 2 || part.kind === 'diode' ? `${part.ref} ${pin.name}` : part.ref))
      .join(', '),
    carrier(net.carrier),
  ]);
  return table(['net', 'joins', 'by'], rows);
}

const mA = (value: number) => (value === 0 ? 'none' : `±${Number(value.toPrecision(value < 0.1 ? 1 : 2))} mA`);

export function errorsTable(): string {
  const ways: Way[] = ['board_mA', 'modules_mA', 'ina226_mA'];
  const row = (term: (typeof ERRORS)[number]) => [
    term.cause,
    term.size,
    ...ways.map((way) => mA(term[way])),
    term.source,
  ];
  const sums = ways.map(remaining);
  return table(
    ['cause', 'size', 'board', 'modules', 'board with INA226', 'source'],
    [
      ...ERRORS.filter((term) => !term.stays).map(row),
      ['**after calibration:**', '', '', '', '', ''],
      ...ERRORS.filter((term) => term.stays).map(row),
      ['**worst case: all the same way**', '', ...sums.map((sum) => mA(sum.worst_mA)), 'sum of what is left'],
      [
        '**root of the sum of squares**',
        '',
        ...sums.map((sum) => mA(sum.likely_mA)),
        'terms independent of each other',
      ],
    ],
  );
}
