// What the link needs of a serial port, and how it comes by one: the package's in the
// program (`serial-port.ts`), one in memory in tests.

export interface Port {
  /** Rejects with the system's own words: `openError` says them to a user. */
  open(): Promise<void>;
  readonly isOpen: boolean;
  onData(take: (bytes: Buffer) => void): void;
  /** Called when it closes, by itself or by `close`. */
  onClose(tell: () => void): void;
  /** @param done called with the error, or null once it is written */
  write(text: string, done: (error: Error | null) => void): void;
  /** Resolves when it is closed and another may open it. */
  close(): Promise<void>;
  /** Tells one device behind the path from another; null where there is none, or no telling. */
  device(): string | null;
}

export type OpenPort = (path: string, baud: number) => Port;
