// `emulate`: the shipped firmware in an emulated microcontroller, clamped to a
// modelled car and offered as a serial port.

import { readFileSync } from 'node:fs';
import { getScenario, listScenarios } from '../emulator/car/scenarios.ts';
import { startEmulatedBoard } from '../emulator/emulated-port.ts';
import { optionalNumber, UsageError } from './command.ts';
import type { Command } from './command.ts';
import { IMAGE_PATH } from './shipped.ts';
import { stopped, stopSignal } from './stop.ts';
import { answer } from './tell.ts';

const SPEED_MAX = 1000;
export const DEFAULT_SCENARIO = 'wakes';

export const command: Command = {
  help: `nightdraw emulate [--link PATH] [--car SCENARIO] [--speed N] [--seed N] [--hands FILE]

Runs the shipped firmware image in an emulated microcontroller with an emulated
sense chip and a modelled car, and offers it as a serial port.

  --link PATH      also offers the port under this name
  --car SCENARIO   one of: ${listScenarios()
    .map((s) => s.name)
    .join(', ')} (default: ${DEFAULT_SCENARIO})
  --speed N        device time runs N times as fast as the clock (default: 1);
                   the board says so in its hello
  --seed N         another night of the same kind
  --hands FILE     with --car pulls: names in FILE, one a line, are pulled or
                   unplugged ('bridge': the bridge is on; 'proof 100': a resistor
                   of 100 ohm is across the battery; 'repaired mirror left': it
                   draws what it should); change it as you go

Ctrl-C ends it.`,
  options: {
    link: { type: 'string' },
    car: { type: 'string' },
    speed: { type: 'string' },
    seed: { type: 'string' },
    hands: { type: 'string' },
  },
  choices: { car: listScenarios().map(({ name }) => name) },
  positionals: 0,
  async run(values) {
    const speed = optionalNumber(values, 'speed', 1, SPEED_MAX, 'times') ?? 1;
    if (!Number.isInteger(speed)) throw new UsageError(`--speed ${speed} is not a whole number`);
    const seed = optionalNumber(values, 'seed', 0, 2 ** 31 - 1, '');
    const name = typeof values['car'] === 'string' ? values['car'] : DEFAULT_SCENARIO;
    const scenario = getScenario(name);
    if (scenario === undefined) {
      throw new UsageError(
        `--car ${name} is not a known scenario; there are ${listScenarios()
          .map((s) => s.name)
          .join(', ')}`,
      );
    }
    const hands = typeof values['hands'] === 'string' ? values['hands'] : undefined;
    if (hands !== undefined && scenario.switched === undefined)
      throw new UsageError(`--hands works with --car pulls, not with ${name}`);
    const signal = stopSignal();
    const board = startEmulatedBoard({
      image: readFileSync(IMAGE_PATH, 'utf8'),
      scenario,
      speed,
      ...(typeof values['link'] === 'string' ? { link: values['link'] } : {}),
      ...(seed === undefined ? {} : { seed }),
      ...(hands === undefined ? {} : { hands }),
      log: (line) => process.stderr.write(`${line}\n`),
      now_ms: () => performance.now(),
    });
    const port = typeof values['link'] === 'string' ? values['link'] : board.path;
    answer(`An emulated board with the car '${name}' is at ${port}  (Ctrl-C ends it)`);
    const ended = await Promise.race([stopped(signal), board.ended]);
    board.close();
    if (ended instanceof Error) throw ended;
    return 0;
  },
};
