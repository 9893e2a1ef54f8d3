// Keeps a line that never ends from filling the memory: bytes beyond the longest
// allowed line are thrown away up to the next LF. What is left is still too long
// for the parser, which refuses and counts it.

import { Transform } from 'node:stream';
import type { TransformCallback } from 'node:stream';
import { LINE_CHARS_MAX } from './lines.ts';

const LF = 10;
const KEPT = LINE_CHARS_MAX + 1;

export class LineCap extends Transform {
  private open = 0;

  override _transform(chunk: Buffer, _encoding: BufferEncoding, done: TransformCallback): void {
    let from = 0;
    let passed = 0;
    for (let lf = chunk.indexOf(LF); lf >= 0; lf = chunk.indexOf(LF, from)) {
      passed = this.cut(chunk, passed, from, lf);
      this.open = 0;
      from = lf + 1;
    }
    passed = this.cut(chunk, passed, from, chunk.length);
    this.open += chunk.length - from;
    // Nearly always the whole chunk at once: pieces would cost the parser behind.
    if (passed < chunk.length) this.push(chunk.subarray(passed));
    done();
  }

  /**
   * Looks at the line piece [from, end). Where it is too long, passes on what may
   * pass of the chunk from `passed` on. Returns up to where the chunk is dealt with.
   */
  private cut(chunk: Buffer, passed: number, from: number, end: number): number {
    const kept = from + Math.max(0, KEPT - this.open);
    if (end <= kept) return passed;
    if (kept > passed) this.push(chunk.subarray(passed, kept));
    return end;
  }
}
