// `record`: a board into a capture, until the time is up or Ctrl-C.

import { basename } from 'node:path';
import type { Personal } from '../contract/capture.ts';
import { knownBoardsPath, rememberBoard } from '../link/known-boards.ts';
import { listPorts } from '../link/ports.ts';
import { openSerialPort } from '../link/serial-port.ts';
import { AT_BOOT, STREAM_NAMES, TRIGGER_LIMITS_uA, usualStream, WINDOW_LIMITS_us } from '../link/settings.ts';
import type { StreamName, WantedSettings } from '../link/settings.ts';
import { BYTES_PER_S_OF, realDisk } from '../recorder/disk.ts';
import { holdCommand, keepAwake } from '../recorder/awake.ts';
import type { Awake } from '../recorder/awake.ts';
import { LiveFeed } from '../recorder/live.ts';
import { LOW_V } from '../recorder/low-battery.ts';
import { preflight } from '../recorder/preflight.ts';
import { record } from '../recorder/record.ts';
import { desktopCommand } from '../notify/desktop.ts';
import { openNotices } from '../notify/notices.ts';
import { isWebAddress } from '../notify/settings.ts';
import { NightWatch } from '../notify/watch.ts';
import { choosePort } from './boards.ts';
import { optionalDuration, optionalNumber, requiredText, UsageError } from './command.ts';
import type { Command, OptionValues } from './command.ts';
import { hostClock } from './host-clock.ts';
import { RecordScreen, summaryInWords } from './record-screen.ts';
import { CAUTIONS } from '../say/cautions.ts';
import { stopSignal } from './stop.ts';
import { answer, tell } from './tell.ts';
import { SoFar } from './so-far.ts';

declare const NIGHTDRAW_VERSION: string;

/** Nobody's computer goes to sleep within this. */
const SHORT_S = 300;

/** The night is on the disk by then; whoever waits at the terminal waits no longer than this. */
const NOTIFY_LAST_MS = 60_000;

export const command: Command = {
  help: `nightdraw record --out FILE [--port PATH | --board NUMBER] [--for 10h] [--job TEXT]

Records until the time is up or Ctrl-C. What is shown as recorded is on disk.
An unfinished FILE of the same board is resumed; any other is refused.

  --port PATH   the board's serial port, such as /dev/ttyUSB0; where it is not
                given, the one board that is at this computer is taken
  --board NUMBER  instead of a port: the board's own number, as 'nightdraw boards' shows it
  --out FILE    the capture
  --for TIME    length of the recording in the car's time: 10h, 45m, 90s, 1h30m
  --stream NAME  windows: mean, least and most of each 50 ms, 5 MB a night;
                bursts: those, and around each change every millisecond;
                raw: every millisecond, 100 MB a night. Default: bursts, but
                windows from an emulated board that runs faster than real time
  --window MS   length of a window, 10 to 1000 (default: 50)
  --trigger mA  change that makes a burst, 1 to 30000 (default: 20)
  --low-volts V  warns when the battery falls to this (default: ${LOW_V})
  --notify URL  tells this web address when the night is done, the board is silent
                for a minute, or the battery falls to --low-volts
  --notify-desktop  shows the same on this computer's desktop
  --job TEXT    what the capture is about
  --plate TEXT, --vehicle TEXT, --customer TEXT
                kept in the capture alone; 'nightdraw forget' takes them out`,
  options: {
    port: { type: 'string' },
    board: { type: 'string' },
    out: { type: 'string' },
    for: { type: 'string' },
    stream: { type: 'string' },
    window: { type: 'string' },
    trigger: { type: 'string' },
    'low-volts': { type: 'string' },
    notify: { type: 'string' },
    'notify-desktop': { type: 'boolean' },
    job: { type: 'string' },
    plate: { type: 'string' },
    vehicle: { type: 'string' },
    customer: { type: 'string' },
  },
  choices: { stream: STREAM_NAMES },
  positionals: 0,
  // oxlint-disable-next-line max-lines-per-function -- one recording, from the options to the last line
  async run(values) {
    const out = requiredText(values, 'out', 'captures/monday.nightdraw');
    const for_s = optionalDuration(values, 'for') ?? null;
    const job = typeof values['job'] === 'string' ? values['job'] : null;
    const stream = streamOf(values);
    const wanted = wantedOf(stream, values);
    const url = urlOf(values);
    const signal = stopSignal();
    const port = typeof values['port'] === 'string' ? values['port'] : await choosePort(boardNumber(values), signal);
    const low_V = optionalNumber(values, 'low-volts', 0, 60, 'volts') ?? LOW_V;
    const screen = new RecordScreen(process.stderr, low_V, () => new Date(hostClock.wall_ms()));
    const soFar = new SoFar((text) => screen.note(text));
    const live = new LiveFeed();
    live.subscribe((reading) => soFar.take(reading));
    const notices = openNotices(
      { url, desktop: values['notify-desktop'] === true },
      desktopCommand(process.platform, process.env),
      (text) => screen.note(text),
      hostClock,
    );
    const watch = notices === null ? null : new NightWatch(basename(out), low_V, (event) => notices.tell(event));
    // Only once it records: a port that is not there is one line.
    let awake: Awake | null | undefined;
    const summary = await record({
      port,
      out,
      for_s,
      job,
      origin: null,
      personal: personalOf(values),
      software: NIGHTDRAW_VERSION,
      clock: hostClock,
      openPort: openSerialPort,
      low_V,
      wanted,
      live,
      bytesPerS: BYTES_PER_S_OF[stream ?? 'bursts'],
      listPorts,
      disk: realDisk,
      signal,
      onProgress: (progress, state) => {
        if (awake === undefined) {
          screen.begin();
          awake = forTheNight(for_s, (text) => screen.note(text));
        }
        screen.show(progress, state);
        watch?.progressed(progress, hostClock.now_us() / 1000);
      },
      onNote: (text) => screen.note(text),
    })
      .catch(async (error: Error) => {
        // What never began is told to whoever is there.
        if (awake !== undefined) watch?.stopped(error.message.replaceAll(out, basename(out)));
        await notices?.close(NOTIFY_LAST_MS);
        throw error;
      })
      .finally(() => {
        awake?.stop();
        screen.end();
      });
    rememberBoard(knownBoardsPath(process.platform, process.env), {
      id: summary.board.id,
      path: port,
      seen_ms: hostClock.wall_ms(),
    });
    answer(summaryInWords(out, summary));
    tell(CAUTIONS.morning.text);
    // Where it lies on this computer is nobody else's matter.
    watch?.done(summaryInWords(basename(out), summary));
    await notices?.close(NOTIFY_LAST_MS);
    return 0;
  },
};

/** Keeps the computer awake and says what may end the night early; not for minutes that somebody waits for. */
function forTheNight(for_s: number | null, onNote: (text: string) => void): Awake | null {
  if (for_s !== null && for_s < SHORT_S) return null;
  for (const warning of preflight(process.platform)) onNote(warning);
  return keepAwake(holdCommand(process.platform), onNote);
}

/** Null where the user leaves the choice to the board's pace. */
function streamOf(values: OptionValues): StreamName | null {
  const text = values['stream'];
  if (text === undefined) return null;
  const name = STREAM_NAMES.find((known) => known === text);
  if (name === undefined) throw new UsageError(`--stream ${String(text)} is none of ${STREAM_NAMES.join(', ')}`);
  return name;
}

function wantedOf(stream: StreamName | null, values: OptionValues): WantedSettings {
  const { least, most } = WINDOW_LIMITS_us;
  const window_ms = optionalNumber(values, 'window', least / 1000, most / 1000, 'ms');
  const trigger_mA = optionalNumber(
    values,
    'trigger',
    TRIGGER_LIMITS_uA.least / 1000,
    TRIGGER_LIMITS_uA.most / 1000,
    'mA',
  );
  return (hello) => ({
    stream: stream ?? usualStream(hello),
    window_us: window_ms === undefined ? AT_BOOT.window_us : Math.round(window_ms * 1000),
    trigger_uA: trigger_mA === undefined ? AT_BOOT.trigger_uA : Math.round(trigger_mA * 1000),
  });
}

function personalOf(values: OptionValues): Personal {
  return Object.fromEntries(
    (['plate', 'vehicle', 'customer'] as const).flatMap((key) =>
      typeof values[key] === 'string' ? [[key, values[key]]] : [],
    ),
  );
}

function boardNumber(values: OptionValues): number | null {
  const text = values['board'];
  if (text === undefined) return null;
  if (typeof text !== 'string' || !/^[0-9a-fA-F]{1,8}$/.test(text))
    throw new UsageError(
      `--board ${String(text)} is not a board's number; 'nightdraw boards' shows it, such as 000B0A4D`,
    );
  return parseInt(text, 16);
}

function urlOf(values: OptionValues): string | null {
  const text = values['notify'];
  if (text === undefined) return null;
  if (!isWebAddress(text))
    throw new UsageError(
      `--notify ${String(text)} is no web address; for example --notify http://192.168.1.5:8080/nightdraw`,
    );
  return text;
}
