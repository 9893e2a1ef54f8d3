// A fuse list that was typed in becomes the CSV that the real reader of lists understands as
// it was meant, whatever is typed.
import fc from 'fast-check';
import { expect, test } from 'vitest';
import { readRows } from '../../../host/bay/tree/tree-rows.ts';
import { readTree } from '../../../host/bay/tree/tree-build.ts';
import { EMPTY_ROW, listText, rowsOfText, TYPES } from '../../../web/bay/list-text.ts';
import type { ListRow } from '../../../web/bay/list-text.ts';

const row = (given: Partial<ListRow>): ListRow => ({ ...EMPTY_ROW, ...given });

test('a typed list reads as a tree; blank rows are passed over, and each line knows its row', () => {
  const { text, rowOfLine } = listText([
    row({ box: '#1 box', position: 'L1', rating: '100', type: 'bolted', feeds: 'F1, F2' }),
    row({ box: '#1 box' }),
    row({ position: 'F1', rating: '7,5', feeds: 'radio, "bass" box' }),
    row({ position: 'F2', rating: 'ten', feeds: 'horn', alone: true }),
  ]);
  expect([...rowOfLine]).toEqual([
    [2, 0],
    [3, 2],
    [4, 3],
  ]);
  const { complaints } = readTree(text);
  expect(complaints.map(({ line, text: words }) => [rowOfLine.get(line), words])).toEqual([
    [3, "the rating 'ten' of F2 is not a number of amperes"],
  ]);
  const { tree } = readTree(text.replace('ten', '10'));
  expect(tree!.nodes.map(({ name, box, rating_A, alone }) => [name, box, rating_A, alone])).toEqual([
    ['L1', '#1 box', 100, false],
    ['F1', '', 7.5, false],
    ['F2', '', 10, true],
    ['radio', '', 7.5, false],
    ['"bass" box', '', 7.5, false],
    ['horn', '', 10, false],
  ]);
});

test('whatever is typed comes back from the reader of lists as it was typed', () => {
  const typed = fc.string({ maxLength: 20, unit: fc.constantFrom(...' ,;"#=\taF1é\n\r'.split('')) });
  const rows = fc.array(
    fc.record({
      box: typed,
      position: typed,
      rating: fc.constant('10'),
      type: fc.constantFrom(...TYPES),
      feeds: typed,
      alone: fc.boolean(),
    }),
    { maxLength: 6 },
  );
  const plain = (text: string) => text.replace(/\s+/g, ' ').trim();
  fc.assert(
    fc.property(rows, (list) => {
      const { text, rowOfLine } = listText(list);
      const read = readRows(text).rows;
      const meant = list.flatMap((one, i) => (plain(one.position) === '' ? [] : [{ ...one, i }]));
      expect(read.map(({ box, position, type, alone }) => ({ box, position, type, alone }))).toEqual(
        meant.map(({ box, position, type, alone }) => ({ box: plain(box), position: plain(position), type, alone })),
      );
      expect(read.map(({ line }) => rowOfLine.get(line))).toEqual(meant.map(({ i }) => i));
      expect(read.map(({ feeds }) => feeds)).toEqual(
        meant.map(({ feeds }) =>
          plain(feeds)
            .split(/[,;]/)
            .map(plain)
            .filter((name) => name !== ''),
        ),
      );
    }),
  );
});

test('what was kept in the tab comes back; anything else there is passed over', () => {
  const rows = [row({ position: 'F1', alone: true }), row({ feeds: '<b>' })];
  expect(rowsOfText(JSON.stringify(rows))).toEqual(rows);
  for (const other of [null, '', '{', '{}', 'null', '[1,null,{"box":"x"}]', '[{"box":1}]'])
    expect(rowsOfText(other)).toEqual([]);
});
