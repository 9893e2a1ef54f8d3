// The page as one drawing, from which PDF, PNG and SVG are made: blocks of wrapped text and
// tables below the picture. Where the text does not fit, it is set smaller as a whole.

import type { MeasureText } from '../../web/chart/text.ts';
import type { Shape } from '../../web/chart/tree.ts';
import { shape } from '../../web/chart/tree.ts';
import { Column, SOFT } from './column.ts';
import type { Content } from './content.ts';
import { FONT_FAMILY } from './fonts.ts';
import { layBay, layClosing, layRepair } from './sheet-bay.ts';
import type { Laid, Place } from './sheet-bay.ts';

/** Sizes in points. ISO 216 A4 is 210 by 297 mm, Letter 8.5 by 11 in. */
export const PAPERS = { a4: { width: 595.28, height: 841.89 }, letter: { width: 612, height: 792 } } as const;
export type Paper = keyof typeof PAPERS;

const MARGIN = 34;
const GAP = 14;
/** The picture is drawn this much larger and set smaller, so that its labels stay in proportion to the page. */
const SHRUNK = 1.4;
const SIZES_PT = [8, 7.5, 7, 6.5, 6, 5.5, 5, 4.5];

/** How large the pictures are drawn, in px of their labels' proportions; `more`: the bay or a repair stands below. */
export function pictureSizes(
  paper: Paper,
  more: boolean,
): Record<'night' | 'compared', { width: number; height: number }> {
  const { width, height } = PAPERS[paper];
  const inner = width - 2 * MARGIN;
  const drawn = (wide: number, share: number) => ({
    width: wide * SHRUNK,
    height: Math.round(height * share) * SHRUNK,
  });
  return { night: drawn(inner, more ? 0.2 : 0.3), compared: drawn((inner - GAP) / 2, 0.13) };
}

/** The pictures of the page, each drawn at the size asked for. */
export interface Pictures {
  night: Draw;
  /** Before and after the repair; null where there is nothing to compare. */
  compared: Draw | null;
}
type Draw = (width: number, height: number) => Shape;

/** The page, in points. */
export function drawSheet(content: Content, paper: Paper, pictures: Pictures, measure: MeasureText): Shape {
  const { width, height } = PAPERS[paper];
  // Their sizes do not hang on that of the text.
  const once = {
    night: drawnOnce(pictures.night),
    compared: pictures.compared === null ? null : drawnOnce(pictures.compared),
  };
  for (const size of SIZES_PT) {
    const { shapes, end } = layOut(content, paper, size, once, measure);
    if (end > height - MARGIN + 8 && size !== SIZES_PT[SIZES_PT.length - 1]) continue;
    return shape(
      'svg',
      {
        xmlns: 'http://www.w3.org/2000/svg',
        'xmlns:xlink': 'http://www.w3.org/1999/xlink',
        width,
        height,
        viewBox: `0 0 ${width} ${height}`,
        'font-family': FONT_FAMILY,
      },
      [
        shape('title', {}, [`nightdraw report: ${content.job}`]),
        shape('rect', { x: 0, y: 0, width, height, fill: '#ffffff' }),
        ...shapes,
      ],
    );
  }
  throw new Error('no size to set the page in');
}

/** Whether anything stands on the page beside the night. */
export const isMore = ({ bay, repair }: Pick<Content, 'bay' | 'repair'>): boolean => bay !== null || repair !== null;

function drawnOnce(draw: Draw): Draw {
  let drawn: Shape | null = null;
  return (width, height) => (drawn ??= draw(width, height));
}

function layOut(content: Content, paper: Paper, size: number, pictures: Pictures, measure: MeasureText): Laid {
  const { width } = PAPERS[paper];
  const inner = width - 2 * MARGIN;
  const head = layHead(content, width, size, measure);
  const sizes = pictureSizes(paper, isMore(content));
  const pictureHeight = sizes.night.height / SHRUNK;
  const pictureY = head.end + 8;
  const picture = pictures.night(sizes.night.width, sizes.night.height);
  const blocks: Laid[] = [];
  const place = (): Place => ({
    x: MARGIN,
    y: blocks.at(-1)?.end ?? pictureY + pictureHeight,
    width: inner,
    gap: GAP,
    size,
    measure,
  });
  if (content.repair !== null) {
    const { compared } = sizes;
    blocks.push(
      layRepair(
        content.repair,
        pictures.compared!(compared.width, compared.height),
        compared.height / SHRUNK,
        SHRUNK,
        place(),
      ),
    );
  }
  if (content.bay !== null) blocks.push(layBay(content.bay, place()));
  if (content.night !== null) blocks.push(layNight(content.night, place()));
  if (content.closing.length > 0) blocks.push(layClosing(content.closing, place()));
  blocks.push(layRest(content, place()));
  return {
    shapes: [
      ...head.shapes,
      shape(
        'g',
        { transform: `translate(${MARGIN} ${pictureY.toFixed(2)}) scale(${(1 / SHRUNK).toFixed(4)})` },
        picture.children,
      ),
      ...blocks.flatMap((block) => block.shapes),
    ],
    end: blocks.at(-1)!.end,
  };
}

/** Whose job, the verdict, and what to do next. */
function layHead(content: Content, width: number, size: number, measure: MeasureText): Laid {
  const inner = width - 2 * MARGIN;
  const logo = content.logo === null ? null : { height: 26, width: Math.min(130, 26 * content.logo.ratio) };
  const top = new Column(MARGIN, MARGIN - 8, inner - (logo === null ? 0 : logo.width + GAP), size, measure);
  top
    .text(content.workshop === '' ? 'Battery draw of a parked car' : content.workshop, { bold: true, scale: 1.3 })
    .text(content.job, { bold: true })
    .text(content.when, { fill: SOFT });
  const verdict = new Column(MARGIN, Math.max(top.y, logo === null ? 0 : MARGIN + 20) + 4, inner, size, measure).text(
    content.verdict,
    { bold: true, scale: 1.7 },
  );
  for (const [label, text] of content.besides) verdict.text(`${label}: ${text}`, { bold: true, scale: 1.2 });
  verdict.text(`Next: ${content.next}`, { scale: 1.15 });
  const image =
    logo === null
      ? []
      : [
          shape('image', {
            x: width - MARGIN - logo.width,
            y: MARGIN - 6,
            width: logo.width,
            height: logo.height,
            'xlink:href': content.logo!.href,
            href: content.logo!.href,
          }),
        ];
  return { shapes: [...top.shapes, ...image, ...verdict.shapes], end: verdict.y };
}

function layNight(night: NonNullable<Content['night']>, { x, y, width, gap, size, measure }: Place): Laid {
  const half = (width - gap) / 2;
  const bill = new Column(x, y, half, size, measure).heading('Charge bill').table(night.bill, 0, new Set([0]));
  const battery = new Column(x + half + gap, y, half, size, measure).heading('Battery');
  night.battery.forEach((line) => battery.text(line));
  const wakeups = new Column(x, Math.max(bill.y, battery.y), width, size, measure)
    .heading('Wake-ups')
    .table(night.wakeups, 6, new Set([0, 1, 6]));
  return { shapes: [bill, battery, wakeups].flatMap((column) => column.shapes), end: wakeups.y };
}

function layRest(content: Content, { x, y, width, size, measure }: Place): Laid {
  const column = new Column(x, y, width, size, measure).heading('Look out');
  if (content.warnings.length === 0) column.text('None.');
  content.warnings.forEach((line) => column.text(line, { indent: 8, lead: '!' }));
  column.heading('Conditions');
  content.conditions.forEach(([label, value]) => column.text(value, { indent: size * 8, lead: label }));
  column.heading('Cautions').text(content.cautions.join(' '));
  return { shapes: column.shapes, end: column.y };
}
