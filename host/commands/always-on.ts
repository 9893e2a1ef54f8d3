// `always-on`: what makes a computer in the bay record by itself: a systemd unit and a
// udev rule, printed or written, with the words that install and remove them.

import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { rulesFile } from '../service/rules.ts';
import { CAPTURES_DIR, SETTINGS_DIR, unitFile } from '../service/unit.ts';
import { optionalNumber, UsageError } from './command.ts';
import type { Command, OptionValues } from './command.ts';
import { answer } from './tell.ts';

export const UNIT_NAME = 'nightdraw.service';
export const RULES_NAME = '60-nightdraw.rules';

/** What the shell starts; this text is beside it in the bundle. */
const PROGRAM = fileURLToPath(new URL('main.js', import.meta.url));

/** The groups that own serial ports: Debian and its kin, then Arch and its kin. */
const GROUPS = ['dialout', 'uucp'];

export const command: Command = {
  help: `nightdraw always-on [--write FOLDER] [--lan] [--port N]

Prints a systemd unit and a udev rule for a computer that stays in the bay: a board
that was recorded there once is recorded whenever it is plugged in, and after a
power cut the same night goes on. With --write both are written into FOLDER, and
the commands are printed that install them and take them out again.

  --write FOLDER     where to write; made where it is not there
  --lan              the page is for tablets in the same network too
  --port N           port of the page (default: 4310)
  --board-port PATH  a board's port that the computer does not list by itself; may be
                     given several times`,
  options: {
    write: { type: 'string' },
    lan: { type: 'boolean' },
    port: { type: 'string' },
    'board-port': { type: 'string', multiple: true },
  },
  positionals: 0,
  run(values) {
    const unit = unitFile({ command: serveCommand(values), lan: values['lan'] === true, group: serialGroup() });
    const folder = values['write'];
    if (folder === undefined) answer(`# ${UNIT_NAME}\n${unit}\n# ${RULES_NAME}\n${rulesFile()}`);
    else answer(written(folder as string, unit));
    return Promise.resolve(0);
  },
};

function serveCommand(values: OptionValues): string[] {
  const port = optionalNumber(values, 'port', 1, 65535, '');
  const boardPorts = (values['board-port'] ?? []) as string[];
  return [
    process.execPath,
    PROGRAM,
    'serve',
    '--unattended',
    '--dir',
    CAPTURES_DIR,
    ...(port === undefined ? [] : ['--port', String(port)]),
    ...(values['lan'] === true ? ['--lan'] : []),
    ...boardPorts.flatMap((path) => ['--board-port', path]),
  ];
}

function serialGroup(): string {
  try {
    const there = readFileSync('/etc/group', 'utf8')
      .split('\n')
      .map((line) => line.split(':')[0]);
    return GROUPS.find((name) => there.includes(name)) ?? GROUPS[0]!;
  } catch {
    return GROUPS[0]!;
  }
}

function written(folder: string, unit: string): string {
  if (folder === '') throw new UsageError('--write names no folder; for example --write /tmp/nightdraw-service');
  const [unitPath, rulesPath] = [join(folder, UNIT_NAME), join(folder, RULES_NAME)];
  try {
    mkdirSync(folder, { recursive: true });
    writeFileSync(unitPath, unit);
    writeFileSync(rulesPath, rulesFile());
  } catch (error) {
    throw new Error(`${folder} cannot be written (${(error as Error).message}); check that it may be`, {
      cause: error,
    });
  }
  return `${unitPath}: written
${rulesPath}: written
${outOfReach(process.execPath, PROGRAM)}
To install:
  sudo install -m 644 ${unitPath} /etc/systemd/system/
  sudo install -m 644 ${rulesPath} /etc/udev/rules.d/
  sudo systemctl daemon-reload
  sudo udevadm control --reload
  sudo systemctl enable --now nightdraw
  sudo systemctl mask sleep.target suspend.target     (it must not fall asleep)

Then record each board once from the page, so that this computer knows it.
'journalctl -u nightdraw' shows what it does, and the code for a tablet (--lan).
Captures: ${CAPTURES_DIR}. Settings: ${SETTINGS_DIR}/nightdraw.json.

To remove:
  sudo systemctl disable --now nightdraw
  sudo rm /etc/systemd/system/${UNIT_NAME} /etc/udev/rules.d/${RULES_NAME}
  sudo systemctl daemon-reload
  sudo udevadm control --reload
  sudo systemctl unmask sleep.target suspend.target
The captures stay.`;
}

/** The service sees no home and a /tmp of its own. */
export function outOfReach(...paths: readonly string[]): string {
  const hidden = paths.find((path) => /^\/(home|root|run\/user|tmp|var\/tmp)\//.test(path));
  return hidden === undefined
    ? ''
    : `\nThe service cannot read ${hidden}: install nightdraw for everybody first\n(sudo npm install -g nightdraw-*.tgz), and run this again from there.\n`;
}
