// The charge bill as a table of text: what stands in the terminal, on the page and in the
// report. A column is added here, and is in all three.

import type { BillTold } from '../contract/meaning.ts';

/** The first column is what the line is about; the others are figures. */
export const BILL_HEAD: readonly string[] = ['', 'mAh', 'share', 'mAh a day'];

/**
 * All lines, and the total below them, each with a cell for every column of the head. The figures add
 * up as they are rounded (analysis/meaning/bill.ts); what is estimated is a range with a question
 * mark, and what happens once a parking costs nothing a day. O(lines).
 */
export function billRows(bill: BillTold): { rows: string[][]; total: string[] } {
  const fixed = (mAh: number) => mAh.toFixed(bill.decimals);
  const rows = bill.lines.map(({ label, shown_mAh, estimate_mAh, share_pct, per_day_mAh }) => [
    label,
    shown_mAh !== null
      ? fixed(shown_mAh)
      : estimate_mAh === null
        ? 'not known'
        : `${fixed(estimate_mAh.low)} to ${fixed(estimate_mAh.high)}?`,
    share_pct === null ? '' : `${share_pct} %`,
    perDay(per_day_mAh),
  ]);
  const isWhole = bill.lines.some((line) => line.share_pct !== null);
  return { rows, total: ['total', fixed(bill.shown_mAh), isWhole ? '100 %' : '', perDay(bill.per_day_mAh)] };
}

/** Whole mAh are enough; tenths below ten. */
const perDay = (mAh: number | null) => (mAh === null ? '' : mAh.toFixed(Math.abs(mAh) < 9.95 ? 1 : 0));
