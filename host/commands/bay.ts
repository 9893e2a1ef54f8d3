// `bay`: from "it draws" to "this part", at the car and away from it.

import { existsSync } from 'node:fs';
import { adviceInWords, circuitInWords, comparedInWords, dropsInWords, treeFrom, treeInWords } from './bay-papers.ts';
import { workAtTheCar } from './bay-live.ts';
import { choosePort } from './boards.ts';
import { optionalNumber, requiredText, UsageError } from './command.ts';
import type { Command, OptionValues } from './command.ts';
import { LOW_V } from '../recorder/low-battery.ts';
import { answer, tell } from './tell.ts';
import { stopSignal } from './stop.ts';

export const command: Command = {
  help: `nightdraw bay --tree CAR.csv --out FILE [--port PATH]     at the car
nightdraw bay --out FILE [--port PATH]                    goes on where it was
nightdraw bay --tree CAR.csv                              looks the tree over
nightdraw bay --tree CAR.csv --drops BOX.csv [--total mA] voltages of a box
nightdraw bay --tree CAR.csv --night FILE                 what to leave out
nightdraw bay --before FILE --after FILE                  is the repair proven?

Leads through preparing and connecting, then says which fuse to read or pull
next, sees from the live reading what it did, and names the part. All of it is
kept in FILE. Keys: Enter when it is done, ? for the others, q to stop.

  --tree CAR.csv    fuses and what they feed: box, position, rating, type, feeds,
                    and leave alone (yes: this fuse is never proposed)
  --out FILE        the capture that records the board and keeps the work
  --port PATH       the board's serial port (default: the one board that is here)
  --allow mA        largest draw accepted (default: 50)
  --meter mV        last digit of the meter for voltages across fuses
                    (default: 0.1); none: no such meter
  --drops BOX.csv   readings: a fuse and its mV a row, columns fuse and mV
  --total mA        what the whole car drew then
  --night FILE      a capture of a night with draws that come and go; with
                    --second FILE --at FUSE: what a second board at that
                    fuse saw in the same night
  --before, --after  captures before and after the repair; with --tree and
                    --left-out FUSE: a night without and one with FUSE out`,
  options: {
    tree: { type: 'string' },
    out: { type: 'string' },
    port: { type: 'string' },
    allow: { type: 'string' },
    meter: { type: 'string' },
    drops: { type: 'string' },
    total: { type: 'string' },
    night: { type: 'string' },
    second: { type: 'string' },
    at: { type: 'string' },
    before: { type: 'string' },
    after: { type: 'string' },
    'left-out': { type: 'string' },
  },
  positionals: 0,
  async run(values) {
    const text = (option: string) => (typeof values[option] === 'string' ? values[option] : null);
    if (text('before') !== null || text('after') !== null) answer(await compared(values));
    else if (text('second') !== null || text('at') !== null) answer(await watched(values));
    else if (text('out') !== null) answer(await atTheCar(values, text('out')!));
    else answer(await onPaper(values, text));
    return 0;
  },
};

/** The meter's last digit in mV; null without one. */
function meterOf(values: OptionValues): number | null {
  if (values['meter'] === 'none') return null;
  return optionalNumber(values, 'meter', 0.001, 10, 'mV') ?? 0.1;
}

async function onPaper(values: OptionValues, text: (option: string) => string | null): Promise<string> {
  const path = requiredText(values, 'tree', 'car.csv');
  const total_mA = optionalNumber(values, 'total', 0, 100_000, 'mA') ?? null;
  const meter_mV = meterOf(values);
  const { tree } = treeFrom(path, tell);
  const [drops, night] = [text('drops'), text('night')];
  if (drops !== null) return dropsInWords(tree, drops, total_mA, meter_mV ?? 0.1);
  if (night !== null) return adviceInWords(tree, night, values);
  return treeInWords(path, tree);
}

/** What a second board saw at one fuse in the same night. */
async function watched(values: OptionValues): Promise<string> {
  const night = requiredText(values, 'night', 'captures/monday.nightdraw');
  const second = requiredText(values, 'second', 'captures/monday-f3.nightdraw');
  const at = requiredText(values, 'at', 'F3');
  return circuitInWords(
    night,
    second,
    values,
    'watched',
    treeFrom(requiredText(values, 'tree', 'car.csv'), tell).tree,
    at,
  );
}

async function compared(values: OptionValues): Promise<string> {
  const before = requiredText(values, 'before', 'captures/monday.nightdraw');
  const after = requiredText(values, 'after', 'captures/tuesday.nightdraw');
  const name = values['left-out'];
  if (typeof name !== 'string') return comparedInWords(before, after, values);
  return circuitInWords(
    before,
    after,
    values,
    'leftOut',
    treeFrom(requiredText(values, 'tree', 'car.csv'), tell).tree,
    name,
  );
}

async function atTheCar(values: OptionValues, out: string): Promise<string> {
  const allowance_mA = optionalNumber(values, 'allow', 0.1, 10_000, 'mA') ?? 50;
  const step_mV = meterOf(values);
  const tree = typeof values['tree'] === 'string' ? treeFrom(values['tree'], tell).text : null;
  if (tree === null && !existsSync(out)) throw new UsageError(`${out} is not there yet; begin with --tree car.csv`);
  if (!process.stdin.isTTY || !process.stdout.isTTY) throw new UsageError('bay is led by keys; run it in a terminal');
  const signal = stopSignal();
  const port = typeof values['port'] === 'string' ? values['port'] : await choosePort(null, signal);
  return workAtTheCar({
    port,
    out,
    start: tree === null ? null : { treeText: tree, options: { allowance_mA, step_mV } },
    low_V: LOW_V,
    signal,
    input: process.stdin,
    output: process.stdout,
  });
}
