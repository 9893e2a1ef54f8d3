// Keeps this computer awake while it records, by the system's own means: a child
// process that holds the request and ends with this one, however that ends.

import { spawn } from 'node:child_process';
import type { ChildProcess } from 'node:child_process';

export interface Awake {
  stop(): void;
  /** Resolves when nothing holds this computer awake any more. */
  readonly ended: Promise<void>;
}

/** Ends when its input does: when the recorder is gone. */
const WAIT = 'cat';

/** Windows: SetThreadExecutionState, ES_CONTINUOUS | ES_SYSTEM_REQUIRED (winbase.h), held until the input ends. */
const WINDOWS_HOLD =
  '$t=Add-Type -PassThru -Name A -Namespace N -MemberDefinition \'[DllImport("kernel32.dll")]public static extern uint SetThreadExecutionState(uint f);\';' +
  '[void]$t::SetThreadExecutionState([uint32]"0x80000001");[void][Console]::In.ReadToEnd()';

/** The command that holds it on each system, null where we know none. */
export function holdCommand(platform: NodeJS.Platform): [string, string[]] | null {
  if (platform === 'linux')
    return [
      'systemd-inhibit',
      ['--what=idle:sleep:handle-lid-switch', '--who=nightdraw', '--why=A car is being recorded', '--mode=block', WAIT],
    ];
  if (platform === 'darwin') return ['caffeinate', ['-i', '-m', '-s', WAIT]];
  if (platform === 'win32') return ['powershell', ['-NoProfile', '-Command', WINDOWS_HOLD]];
  return null;
}

/** @param onNote told where it does not work, with what to do instead */
export function keepAwake(command: [string, string[]] | null, onNote: (text: string) => void): Awake {
  const cannot = (reason: string) =>
    onNote(
      `this computer cannot be kept awake from here (${reason}); set it not to sleep tonight, also with its lid shut`,
    );
  if (command === null) {
    cannot('no way is known on this system');
    return { stop: () => undefined, ended: Promise.resolve() };
  }
  let stopping = false;
  const child: ChildProcess = spawn(command[0], command[1], { stdio: ['pipe', 'ignore', 'ignore'], windowsHide: true });
  const ended = new Promise<void>((resolve) => {
    child.on('error', (error) => {
      cannot(error.message);
      resolve();
    });
    child.on('exit', (code) => {
      if (!stopping) cannot(`${command[0]} ended with ${code}`);
      resolve();
    });
  });
  child.stdin!.on('error', () => undefined);
  child.unref();
  return {
    ended,
    stop() {
      stopping = true;
      child.stdin!.end();
    },
  };
}
