// Where the name of each part is printed: the first place around its pads that touches no pad and no other name.
import { SIZE } from './placement.ts';
import type { PlacedPad } from './placement.ts';

export interface Label {
  ref: string;
  x: number;
  y: number;
}

/** Letters of 1 mm, as KiCad draws them, with what is free around them. */
const LETTER = { width: 0.95, height: 1.5 };
const FREE = 0.25;

interface Box {
  left: number;
  right: number;
  top: number;
  bottom: number;
}
const meet = (a: Box, b: Box) => a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;
const around = (x: number, y: number, width: number, height: number): Box => ({
  left: x - width / 2,
  right: x + width / 2,
  top: y - height / 2,
  bottom: y + height / 2,
});

/** Above, below, left, right, each a little further off if need be; @throws where a name finds no place */
export function labelsOf(pads: readonly PlacedPad[]): Label[] {
  const taken = pads.map((pad) => around(pad.x, pad.y, pad.w + 2 * FREE, pad.h + 2 * FREE));
  return [...new Set(pads.map((pad) => pad.ref))].map((ref) => {
    const own = pads.filter((pad) => pad.ref === ref);
    const box: Box = {
      left: Math.min(...own.map((pad) => pad.x - pad.w / 2)),
      right: Math.max(...own.map((pad) => pad.x + pad.w / 2)),
      top: Math.min(...own.map((pad) => pad.y - pad.h / 2)),
      bottom: Math.max(...own.map((pad) => pad.y + pad.h / 2)),
    };
    const [width, height] = [ref.length * LETTER.width, LETTER.height];
    const middle = [(box.left + box.right) / 2, (box.top + box.bottom) / 2] as const;
    const inside: (readonly [number, number])[] = own.length > 2 ? [middle] : [];
    const places = [0, 0.5, 1, 1.5, 2, 3].flatMap((off) => [
      [middle[0], box.top - FREE - height / 2 - off] as const,
      [middle[0], box.bottom + FREE + height / 2 + off] as const,
      [box.left - FREE - width / 2 - off, middle[1]] as const,
      [box.right + FREE + width / 2 + off, middle[1]] as const,
    ]);
    const place = [...inside, ...places].find(([x, y]) => {
      const own = around(x, y, width, height);
      const isOn = own.left > 0.5 && own.top > 0.5 && own.right < SIZE.width - 0.5 && own.bottom < SIZE.height - 0.5;
      return isOn && !taken.some((other) => meet(own, other));
    });
    if (place === undefined) throw new Error(`no place for the name of ${ref}`);
    taken.push(around(place[0], place[1], width, height));
    return { ref, x: place[0], y: place[1] };
  });
}
