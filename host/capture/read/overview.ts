// An overview of any stretch of a capture: groups of readings from the pyramid where
// they are fine enough, the readings themselves closer in, and raw conversions where
// they are to be had and would be told apart.

import { newWindowColumns, sortWindows, STREAM } from '../format/blocks.ts';
import { changesNothing } from './calibrated.ts';
import type { Layout } from './layout.ts';
import { binGroups } from './grouped.ts';
import type { BlockPlace, Stored } from './stored.ts';
import { decodeGroups, GROUP, groupCount, groupPoints, groupWindows, newGroups } from '../format/summaries.ts';
import type { Groups } from '../format/summaries.ts';
import type { Bins, Waveform } from '../../contract/capture.ts';
import { waveformsBetween } from './waveforms.ts';

/** Closer in than this many seconds a bin, conversions show what windows do not: half of a usual window. */
const RAW_BIN_S = 0.025;

/** What a conversion covers that follows none: its own time, about a millisecond (firmware/PROTOCOL.md, line L). */
const CONVERSION_S = 0.00105;

/** @throws Error where the stretch or the number of bins is none */
export function overviewOf(stored: Stored, layout: Layout, from_s: number, to_s: number, bins: number): Bins {
  if (!(to_s > from_s) || !(bins >= 1))
    throw new Error(
      `an overview needs a stretch of time and a bin at least, not ${from_s} to ${to_s} s in ${bins} bins`,
    );
  const { seen, within } = seenBetween(layout, from_s, to_s);
  // Groups will do where at least one falls into each bin; closer in, the readings themselves are drawn.
  const coarse = within >= bins * GROUP;
  const parts = seen.map((block) => {
    const groups = coarse && block.pending === 0 ? summaryOf(stored, block) : finest(stored, block);
    return placed(corrected(groups, layout, block), layout, block);
  });
  if ((to_s - from_s) / bins >= RAW_BIN_S || layout.raw.length === 0) return binGroups(parts, from_s, to_s, bins);
  const waves = waveformsBetween(stored, layout, from_s, to_s);
  return binGroups([...parts.map((groups) => outside(groups, waves)), ...waves.map(groupsOf)], from_s, to_s, bins);
}

/** The blocks of which something lies in a stretch, and about how many of their readings do. */
function seenBetween({ blocks, spans }: Layout, from_s: number, to_s: number): { seen: BlockPlace[]; within: number } {
  const seen: BlockPlace[] = [];
  let within = 0;
  for (let b = 0; b < blocks.length; b++) {
    const start_s = spans.from_s[b]!,
      end_s = spans.to_s[b]!;
    if (end_s < from_s || start_s >= to_s) continue;
    const share = end_s > start_s ? (Math.min(end_s, to_s) - Math.max(start_s, from_s)) / (end_s - start_s) : 1;
    seen.push(blocks[b]!);
    within += blocks[b]!.count * share;
  }
  return { seen, within };
}

/** Their times in seconds on the trace's axis. */
function placed(groups: Groups, { axis, zero_s }: Layout, block: BlockPlace): Groups {
  const map = axis.get(block.run)!;
  const { from, to } = groups;
  let before_us = NaN,
    before_s = NaN;
  for (let g = 0; g < from.length; g++) {
    // Nearly always one begins where the one before it ended.
    from[g] = from[g] === before_us ? before_s : map.at(from[g]!) / 1e6 - zero_s;
    before_us = to[g]!;
    to[g] = before_s = map.at(before_us) / 1e6 - zero_s;
  }
  return groups;
}

function summaryOf(stored: Stored, block: BlockPlace): Groups {
  const data = stored.summary(block);
  // One that is none of this block says nothing; its readings do.
  if (data === undefined || groupCount(data) !== Math.ceil(block.count / GROUP)) return finest(stored, block);
  const groups = newGroups(groupCount(data));
  decodeGroups(data, block.first_t_us, groups, 0);
  return groups;
}

/** Filled anew for each block: new memory is slow. */
let scratch = newWindowColumns(0);

/** Every reading of a block as a group of its own. */
function finest(stored: Stored, block: BlockPlace): Groups {
  if (block.stream === STREAM.points) return groupPoints(stored.points([block]), 0, block.count, 1);
  if (scratch.t_us.length < block.count) scratch = newWindowColumns(block.count);
  stored.windowsOf(block, scratch);
  sortWindows(scratch, 0, block.count);
  return groupWindows(scratch, 0, block.count, 1);
}

function corrected(groups: Groups, layout: Layout, block: BlockPlace): Groups {
  const correction = layout.correction.get(block.run)!;
  if (changesNothing(correction)) return groups;
  const { scale, shift_uA } = correction;
  for (const values of [groups.min_mA, groups.mean_mA, groups.max_mA]) {
    for (let g = 0; g < values.length; g++) values[g] = values[g]! * scale + shift_uA / 1000;
  }
  return groups;
}

/** Groups that no waveform covers; one that is covered in part is cut to what is left on either side. */
function outside(groups: Groups, waves: readonly Waveform[]): Groups {
  const kept: [number, number, number][] = [];
  for (let g = 0; g < groups.from.length; g++) {
    let from = groups.from[g]!;
    const to = groups.to[g]!;
    for (const { t_s } of waves) {
      const start = t_s[0]! - CONVERSION_S,
        end = t_s[t_s.length - 1]!;
      if (end <= from || start >= to) continue;
      if (start > from) kept.push([from, start, g]);
      from = end;
    }
    if (from < to) kept.push([from, to, g]);
  }
  const of = (pick: (row: [number, number, number]) => number) => Float64Array.from(kept, pick);
  return {
    from: of(([from]) => from),
    to: of(([, to]) => to),
    min_mA: of(([, , g]) => groups.min_mA[g]!),
    mean_mA: of(([, , g]) => groups.mean_mA[g]!),
    max_mA: of(([, , g]) => groups.max_mA[g]!),
  };
}

/** Each conversion covers the time since the one before. */
function groupsOf({ t_s, current_mA }: Waveform): Groups {
  const mean_mA = Float64Array.from(current_mA);
  return {
    from: t_s.map((t, i) => (i === 0 ? t - CONVERSION_S : t_s[i - 1]!)),
    to: t_s,
    min_mA: mean_mA,
    mean_mA,
    max_mA: mean_mA,
  };
}
