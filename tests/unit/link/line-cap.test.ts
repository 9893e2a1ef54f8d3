// The cap in front of the line parser: endless lines cost no memory and stay refusable;
// everything else passes untouched, wherever the chunks are cut.
import { ReadlineParser } from '@serialport/parser-readline';
import fc from 'fast-check';
import { expect, test } from 'vitest';
import { LineCap } from '../../../host/link/line-cap.ts';
import { LINE_CHARS_MAX } from '../../../host/link/lines.ts';

function through(chunks: string[]): string[] {
  const lines: string[] = [];
  const cap = new LineCap();
  cap
    .pipe(new ReadlineParser({ delimiter: '\n', encoding: 'latin1' }), { end: false })
    .on('data', (line: string) => lines.push(line));
  for (const chunk of chunks) cap.write(Buffer.from(chunk, 'latin1'));
  return lines;
}

const settled = () => new Promise((resolve) => setImmediate(resolve));

test('lines are cut to one byte over the limit, and no others', async () => {
  const piece = fc.oneof(
    fc.nat(600).map((n) => 'x'.repeat(n)),
    fc.constant('\n'),
    fc.constant('ab\n'),
    fc.nat(240).map((n) => `${'y'.repeat(n)}\n`),
  );
  await fc.assert(
    fc.asyncProperty(
      fc.array(piece, { maxLength: 30 }),
      fc.array(fc.nat(500), { maxLength: 8 }),
      async (pieces, cuts) => {
        const text = pieces.join('');
        const at = [...cuts.map((cut) => cut % (text.length + 1)), 0, text.length].sort((a, b) => a - b);
        const lines = through(at.slice(1).map((end, i) => text.slice(at[i], end)));
        await settled();
        // Without the unterminated tail; the parser behind skips empty lines.
        const expected = text
          .split('\n')
          .slice(0, -1)
          .filter((line) => line !== '')
          .map((line) => line.slice(0, LINE_CHARS_MAX + 1));
        expect(lines).toEqual(expected);
      },
    ),
    { numRuns: 300 },
  );
});
