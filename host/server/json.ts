// An answer that is written already, in a thread that is not the server's own: a picture of
// some thousand numbers would keep it from the live stream.

export class Json {
  constructor(readonly bytes: Uint8Array<ArrayBuffer>) {}

  static of(value: unknown): Json {
    return new Json(new TextEncoder().encode(JSON.stringify(value)));
  }

  /** What it says, read again. */
  value(): unknown {
    return JSON.parse(new TextDecoder().decode(this.bytes));
  }
}
