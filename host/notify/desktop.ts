// A notice on this computer's desktop, by the system's own program. The text goes to it as
// arguments, never through a shell. Linux: notify-send (libnotify; Desktop Notifications
// Specification). macOS: osascript, "display notification"; from memory, not tried there.

import { spawn } from 'node:child_process';
import { existsSync } from 'node:fs';
import { delimiter, join } from 'node:path';
import type { NotifyEvent } from './webhook.ts';

export interface DesktopCommand {
  program: string;
  /** Arguments before the title and the text. */
  before: readonly string[];
}

/** Nobody waits longer than this for a desktop that hangs. */
const SHOWN_WITHIN_MS = 10_000;

const TITLES: Record<NotifyEvent['event'], string> = {
  'night-done': 'The recording is done',
  'recording-stopped': 'The recording has stopped',
  'board-silent': 'The board is silent',
  'battery-low': 'The battery is low',
};

const APPLESCRIPT = ['on run argv', 'display notification (item 2 of argv) with title (item 1 of argv)', 'end run'];

/** What shows a notice here, or why nothing does, in a few words. */
export function desktopCommand(platform: NodeJS.Platform, env: NodeJS.ProcessEnv): DesktopCommand | string {
  if (platform === 'darwin') return { program: 'osascript', before: APPLESCRIPT.flatMap((line) => ['-e', line]) };
  if (platform !== 'linux') return 'no way is known on this system';
  const program = (env['PATH'] ?? '')
    .split(delimiter)
    .map((folder) => join(folder, 'notify-send'))
    .find((path) => existsSync(path));
  if (program === undefined) return 'notify-send is not installed (Debian: libnotify-bin)';
  const runtime = env['XDG_RUNTIME_DIR'];
  const hasBus =
    env['DBUS_SESSION_BUS_ADDRESS'] !== undefined || (runtime !== undefined && existsSync(join(runtime, 'bus')));
  return hasBus ? { program, before: ['--app-name=nightdraw', '--'] } : 'nobody is logged in at a desktop';
}

export class DesktopNotices {
  private readonly shown = new Set<Promise<void>>();

  /** @param onTrouble told when one could not be shown, in one sentence */
  constructor(
    private readonly command: DesktopCommand,
    private readonly onTrouble: (text: string) => void,
  ) {}

  /** Returns at once. */
  tell({ event, capture, sentence }: NotifyEvent): void {
    const { program, before } = this.command;
    // A desktop may read the text as markup.
    const text = `${capture}: ${sentence}`.replace(/[<>&]/g, ' ');
    const child = spawn(program, [...before, TITLES[event], text], { stdio: 'ignore', timeout: SHOWN_WITHIN_MS });
    const over = new Promise<void>((resolve) => {
      const failed = (why: string) => this.onTrouble(`the notice ${event} could not be shown on the desktop (${why})`);
      child.on('error', (error) => (failed(error.message), resolve()));
      child.on(
        'exit',
        (code) => (code === 0 ? undefined : failed(`${program} ended with ${code ?? 'a signal'}`), resolve()),
      );
    });
    this.shown.add(over);
    void over.then(() => this.shown.delete(over));
  }

  async close(): Promise<void> {
    await Promise.all(this.shown);
  }
}
