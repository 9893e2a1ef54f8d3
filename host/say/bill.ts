// The charge bill as rows of text: what stands in the terminal, on the page and in the report.

import type { BillTold } from '../contract/meaning.ts';

export interface BillRow {
  label: string;
  /** mAh; `not known`, or `a to b?` where the charge is an estimate. */
  mAh: string;
  share: string;
  /** mAh of a day asleep; empty for what happens once a parking. */
  perDay: string;
}

export const BILL_HEAD = { label: '', mAh: 'mAh', share: 'share', perDay: 'mAh a day' };

/** All lines, and the total below them. The figures add up as they are rounded (analysis/meaning/bill.ts). O(lines). */
export function billRows(bill: BillTold): { rows: BillRow[]; total: BillRow } {
  const fixed = (mAh: number) => mAh.toFixed(bill.decimals);
  const rows = bill.lines.map(({ label, shown_mAh, estimate_mAh, share_pct, per_day_mAh }) => ({
    label,
    mAh:
      shown_mAh !== null
        ? fixed(shown_mAh)
        : estimate_mAh === null
          ? 'not known'
          : `${fixed(estimate_mAh.low)} to ${fixed(estimate_mAh.high)}?`,
    share: share_pct === null ? '' : `${share_pct} %`,
    perDay: perDay(per_day_mAh),
  }));
  const isWhole = rows.some(({ share }) => share !== '');
  const total = {
    label: 'total',
    mAh: fixed(bill.shown_mAh),
    share: isWhole ? '100 %' : '',
    perDay: perDay(bill.per_day_mAh),
  };
  return { rows, total };
}

/** Whole mAh are enough; tenths below ten. */
const perDay = (mAh: number | null) => (mAh === null ? '' : mAh.toFixed(Math.abs(mAh) < 9.95 ? 1 : 0));
