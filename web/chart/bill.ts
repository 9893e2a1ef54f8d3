// The charge bill as one bar: where the night's charge went, largest part read first.

import type { ChargeBill } from '../../host/contract/findings.ts';
import type { Surface } from './data.ts';
import type { Palette } from './palette.ts';
import type { Shape } from './tree.ts';
import { shape } from './tree.ts';

export interface BillPart {
  key: 'going' | 'asleep' | 'wakeups' | 'gaps';
  label: string;
  charge_mAh: number;
  /** Share of the whole bill, 0 to 1. */
  share: number;
}

/** The parts in the order of the night. Parts that give charge back have no share. */
export function billParts(bill: ChargeBill): BillPart[] {
  const raw: Omit<BillPart, 'share'>[] = [
    { key: 'going', label: 'going to sleep', charge_mAh: bill.going_to_sleep_mAh },
    { key: 'asleep', label: 'asleep', charge_mAh: bill.asleep_mAh },
    { key: 'wakeups', label: 'wake-ups', charge_mAh: bill.wakeups_mAh },
    ...(bill.gaps_mAh === null ? [] : [{ key: 'gaps' as const, label: 'gaps', charge_mAh: bill.gaps_mAh }]),
  ];
  const sum = raw.reduce((total, part) => total + Math.max(0, part.charge_mAh), 0);
  return raw.map((part) => ({ ...part, share: sum > 0 ? Math.max(0, part.charge_mAh) / sum : 0 }));
}

export function billColour(key: BillPart['key'], palette: Palette): string {
  return { going: palette.billGoing, asleep: palette.billAsleep, wakeups: palette.billWake, gaps: palette.gap }[key];
}

export function drawBill(bill: ChargeBill, surface: Surface): Shape {
  let at = 0;
  const children = billParts(bill).flatMap((part) => {
    const width = part.share * surface.width;
    const from = at;
    at += width;
    if (width < 0.5) return [];
    // A hair of paper between the parts keeps them apart in any colour vision and in print.
    return [
      shape('rect', {
        x: from,
        y: 0,
        width: Math.max(0.5, width - 2),
        height: surface.height,
        fill: billColour(part.key, surface.palette),
        'data-part': part.key,
      }),
    ];
  });
  return shape(
    'svg',
    {
      xmlns: 'http://www.w3.org/2000/svg',
      width: surface.width,
      height: surface.height,
      viewBox: `0 0 ${surface.width} ${surface.height}`,
    },
    children,
  );
}
