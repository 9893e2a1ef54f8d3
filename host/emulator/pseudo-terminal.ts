// A pseudo-terminal whose far end behaves like a serial port: raw, no echo, and
// what is sent while nobody has it open is lost. It keeps only the near end open,
// since a read of that tells (EIO) whether anybody has the far end.
//
// The package's own `open()` wraps both ends in streams that cannot be kept from
// reading and closing them, so its binding is called directly.
import { execFileSync } from 'node:child_process';
import {
  closeSync,
  constants,
  lstatSync,
  openSync,
  readlinkSync,
  readSync,
  symlinkSync,
  unlinkSync,
  writeSync,
} from 'node:fs';
import { createRequire } from 'node:module';

interface Binding {
  open: (columns: number, rows: number) => { master: number; slave: number; pty: string };
}

const RECEIVE_BYTES = 4096;

export class PseudoTerminal {
  /** Device path that a program opens. */
  readonly path: string;
  private readonly near: number;
  private readonly received = Buffer.alloc(RECEIVE_BYTES);
  private pending: Buffer = Buffer.alloc(0);
  private open = false;
  private link: string | null = null;

  /** @throws Error where the system gives no pseudo-terminal. */
  constructor() {
    const { master, slave, pty } = openPair();
    this.near = master;
    this.path = pty;
    try {
      execFileSync('stty', [process.platform === 'linux' ? '-F' : '-f', pty, 'raw', '-echo'], { stdio: 'pipe' });
    } catch (error) {
      closeSync(master);
      throw new Error(`the emulated board's port cannot be made raw: stty ${reasonOf(error)}`);
    } finally {
      closeSync(slave);
    }
  }

  /** Bytes that the far end has not taken yet. */
  get waiting(): number {
    return this.pending.length;
  }

  get isOpen(): boolean {
    return this.open;
  }

  /**
   * A symbolic link to the device, gone again after `close`. A dangling one from an earlier run is replaced.
   * @throws Error where something else has that name.
   */
  linkAs(link: string): void {
    const found = lstatSync(link, { throwIfNoEntry: false });
    if (found !== undefined) {
      if (!found.isSymbolicLink() || !readlinkSync(link).startsWith('/dev/')) {
        throw new Error(`${link} exists and is no link to a device; choose another name for the link or remove it`);
      }
      unlinkSync(link);
    }
    try {
      symlinkSync(this.path, link);
    } catch (error) {
      throw new Error(
        `the link ${link} cannot be made (${(error as NodeJS.ErrnoException).code}); check that its folder exists and may be written to`,
        { cause: error },
      );
    }
    this.link = link;
  }

  /** What the far end sent since the last call, and whether anybody has it open now. */
  receive(): Buffer {
    try {
      const count = readSync(this.near, this.received, 0, RECEIVE_BYTES, null);
      if (count > 0) {
        this.open = true;
        return Buffer.from(this.received.subarray(0, count));
      }
      this.closedByReader();
    } catch (error) {
      const code = (error as NodeJS.ErrnoException).code;
      if (code === 'EAGAIN') this.open = true;
      else if (code === 'EIO') this.closedByReader();
      else throw error;
    }
    return Buffer.alloc(0);
  }

  /** Sends, or keeps for the next call what the far end has no room for. Lost where nobody has it open. */
  send(bytes: Buffer): void {
    if (!this.open) {
      this.pending = Buffer.alloc(0);
      return;
    }
    this.pending = this.pending.length === 0 ? bytes : Buffer.concat([this.pending, bytes]);
    try {
      while (this.pending.length > 0) this.pending = this.pending.subarray(writeSync(this.near, this.pending));
    } catch (error) {
      if ((error as NodeJS.ErrnoException).code !== 'EAGAIN') throw error;
    }
  }

  close(): void {
    if (this.link !== null) this.removeLink(this.link);
    this.link = null;
    closeSync(this.near);
  }

  /** Only the link that still leads here: another run may have taken the name over. */
  private removeLink(link: string): void {
    const found = lstatSync(link, { throwIfNoEntry: false });
    if (found?.isSymbolicLink() && readlinkSync(link) === this.path) unlinkSync(link);
  }

  private closedByReader(): void {
    if (!this.open) return;
    this.open = false;
    this.pending = Buffer.alloc(0);
    this.drain();
  }

  /** What the last reader left unread must not reach the next one as if it were new. */
  private drain(): void {
    const far = openSync(this.path, constants.O_RDONLY | constants.O_NOCTTY | constants.O_NONBLOCK);
    try {
      while (readSync(far, Buffer.alloc(RECEIVE_BYTES), 0, RECEIVE_BYTES, null) > 0);
    } catch (error) {
      if ((error as NodeJS.ErrnoException).code !== 'EAGAIN') throw error;
    } finally {
      closeSync(far);
    }
  }
}

function openPair(): { master: number; slave: number; pty: string } {
  try {
    const { requireBinary } = createRequire(import.meta.url)('@lydell/node-pty/requireBinary.js') as {
      requireBinary: (file: string) => Binding;
    };
    return requireBinary('pty.node').open(80, 24);
  } catch (error) {
    throw new Error(`this system gives no pseudo-terminal for the emulated board: ${reasonOf(error)}`);
  }
}

function reasonOf(error: unknown): string {
  return error instanceof Error ? error.message.split('\n')[0]! : String(error);
}
