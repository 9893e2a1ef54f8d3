// Raw conversions of a stretch of time, as the stretches in which they follow one
// another: the bursts around wake-ups, or part of a raw recording.

import { newRawColumns } from '../format/raw-blocks.ts';
import type { Layout } from './layout.ts';
import type { Stored } from './stored.ts';
import { RAW_FLAG } from '../../contract/capture.ts';
import type { Waveform } from '../../contract/capture.ts';

/** A longer time between two conversions breaks a waveform: a line of six was lost, or more. */
const BREAK_S = 0.005;

/** @returns waveforms in ascending order, cut to [from_s, to_s) of the trace's axis */
export function waveformsBetween(
  stored: Stored,
  { raw, axis, correction, zero_s }: Layout,
  from_s: number,
  to_s: number,
): Waveform[] {
  const found: Waveform[] = [];
  let open: { t_s: number[]; current_mA: number[]; flags: number[] } | null = null;
  const close = () => {
    if (open !== null && open.t_s.length > 0)
      found.push({
        t_s: Float64Array.from(open.t_s),
        current_mA: Float32Array.from(open.current_mA),
        flags: Uint8Array.from(open.flags),
      });
    open = null;
  };
  let run = 0;
  for (const block of raw) {
    const map = axis.get(block.run)!;
    if (map.at(block.last_t_us) / 1e6 - zero_s < from_s || map.at(block.first_t_us) / 1e6 - zero_s >= to_s) continue;
    const columns = newRawColumns(block.count);
    stored.raw(block, columns);
    const t_s = new Float64Array(block.count);
    map.place(columns.t_us, block.count, t_s, 0, zero_s);
    const { perUnit_mA, atZero_mA } = correction.get(block.run)!;
    for (let i = 0; i < block.count; i++) {
      if (t_s[i]! < from_s || t_s[i]! >= to_s) continue;
      const before: number | undefined = open?.t_s.at(-1);
      if (
        block.run !== run ||
        before === undefined ||
        (columns.flags[i]! & RAW_FLAG.broken) !== 0 ||
        t_s[i]! - before > BREAK_S
      ) {
        close();
        open = { t_s: [], current_mA: [], flags: [] };
        run = block.run;
      }
      open!.t_s.push(t_s[i]!);
      open!.current_mA.push(columns.units[i]! * perUnit_mA + atZero_mA);
      open!.flags.push(columns.flags[i]!);
    }
  }
  close();
  return found;
}
