// From a night's trace to what it means: the findings of the detection, and on top of them the
// allowance, the charge bill, the battery, the complaint, the causes and the misreadings. Pure: the same
// night and options give the same meaning.

import { timeWords } from '../../say/times.ts';
import type { Gap, Trace, VoltageTrace } from '../../contract/capture.ts';
import { analyse } from '../night/analyse.ts';
import type { Findings } from '../../contract/findings.ts';
import type { AnalysisOptions } from '../../contract/settings.ts';
import { allowanceOf } from './allowance.ts';
import type { AllowanceChoice } from './allowance.ts';
import { batteryOf, complaintOf } from './battery.ts';
import type { Draw } from './battery.ts';
import { billOf } from './bill.ts';
import { coarseOf } from './coarse.ts';
import { explanationsOf } from './explanations.ts';
import type { BatteryTold, Meaning, Warning } from '../../contract/meaning.ts';
import { misreadingsOf } from './misreadings/misreadings.ts';
import type { Proof } from './misreadings/scene.ts';
import { nextStepOf } from './next-step.ts';
import { voltsOf } from './volts.ts';
import { DEFAULT_OPTIONS, SETTLE_MIN } from '../../contract/settings.ts';
import type { Told } from '../../contract/settings.ts';

/** A recorded night, with what was recorded beside the current. */
export interface NightSource {
  trace: Trace;
  /** Battery voltage; null where none was recorded. */
  voltage: VoltageTrace | null;
  /** Upper end of the board's range; null where it is not known. */
  fullScale_mA: number | null;
  /**
   * What the board reported about itself, in order of time; absent where there was no board, or no
   * report.
   */
  statuses?: readonly BoardStatus[];
}

/**
 * A fault of the board, the end of one, or a boot that nobody asked for, by its code (firmware/PROTOCOL.md,
 * "S status"). `t_s`: seconds on the axis of the trace.
 */
export interface BoardStatus {
  t_s: number;
  code: string;
}

/** Everything that can be set about what a night means. */
export interface MeaningOptions extends Omit<AnalysisOptions, 'allowance_mA'> {
  allowance: AllowanceChoice;
  battery: BatteryTold;
  /** Days after which the customer found the car dead; null where there is no such complaint. */
  dead_after_days: number | null;
  /** The proof load that was switched on; null where none was. */
  proof: Proof | null;
}

/** The options for `interpret` from settings; whatever is not set takes its usual value. */
export function optionsFrom(told: Told): MeaningOptions {
  return {
    step_mA: told.step_mA ?? DEFAULT_OPTIONS.step_mA,
    hold_s: told.hold_s ?? DEFAULT_OPTIONS.hold_s,
    rise_mA: told.rise_mA ?? DEFAULT_OPTIONS.rise_mA,
    allowance: {
      allow_mA: told.allowance_mA ?? null,
      source: told.allowance_source ?? null,
      settle_min: told.settle_min ?? SETTLE_MIN,
    },
    battery: {
      type: told.battery_type ?? null,
      capacity_Ah: told.capacity_Ah ?? null,
      reserve_min: told.reserve_min ?? null,
      before_V: told.before_V ?? null,
      after_V: told.after_V ?? null,
      temperature_C: told.temperature_C ?? null,
    },
    dead_after_days: told.dead_after_days ?? null,
    proof:
      told.proof_mA === undefined
        ? null
        : { load_mA: told.proof_mA, at_s: told.proof_at_min === undefined ? null : told.proof_at_min * 60 },
  };
}

/** The findings of a night with everything that they mean. */
export type NightMeaning = Findings & Meaning;

/** After this long asleep, the battery's voltage counts as rested. */
const RESTED_S = 7200;

/** Grave warnings in a few words, for the head of the verdict. */
const IN_SHORT: Partial<Record<Warning['code'], string>> = {
  'too-low': 'near zero all the time',
  'bridge-on': 'the bridge may have been on',
  'fell-low': 'the reading fell low',
  'ground-loop': 'a parallel path carried a part',
  'clamps-swapped': 'the clamps are swapped',
  charger: 'a charger was on',
  solar: 'a solar panel was on',
  negative: 'the current is negative',
  'voltage-odd': 'no 12 V battery',
};

/** The sentence of the verdict, after the first grave warning if there is one. */
function sentenceWith(sentence: string, warnings: readonly Warning[]): string {
  const grave = warnings.find((w) => w.grave);
  if (grave === undefined) return sentence;
  return `Not to be relied on (${IN_SHORT[grave.code]!}): ${sentence[0]!.toLowerCase()}${sentence.slice(1)}`;
}

/** The gaps of the findings with what the trace knows about their charge and length. */
function gapsWithCharge(findings: Findings, gaps: readonly Gap[]): Findings['trace']['gaps'] {
  return findings.trace.gaps.map((gap) => {
    const known = gaps.find((g) => Math.abs(g.end_s - gap.end_s) < 1e-6);
    if (known === undefined) return gap;
    const { charge_mAh, estimate_mAh, uncertain_s } = known;
    return {
      ...gap,
      charge_mAh,
      ...(estimate_mAh === undefined ? {} : { estimate_mAh }),
      ...(uncertain_s === undefined ? {} : { uncertain_s }),
    };
  });
}

/**
 * Everything that a night means. Near linear in the samples.
 *
 * @throws RangeError in one sentence where an option makes no sense, or where values or times of the
 * trace are not finite or not in order
 */
export function interpret(source: NightSource, options: MeaningOptions): NightMeaning {
  const { trace, voltage } = source;
  const { step_mA, hold_s, rise_mA } = options;
  const chosen = allowanceOf(options.allowance, options.battery.reserve_min);
  const findings = analyse(trace, { allowance_mA: chosen.mA, step_mA, hold_s, rise_mA });
  const { asleep } = findings;
  const allowance = { ...chosen, settled_min: asleep === null ? null : asleep.after_s / 60 };
  const volts = voltsOf(voltage);
  const draw: Draw = {
    // A current that charges the battery is no draw.
    asleep_mA: asleep === null || asleep.mean_mA < 0 ? null : asleep.mean_mA,
    going_to_sleep_mAh: findings.charge.going_to_sleep_mAh,
    rested: asleep !== null && findings.trace.duration_s - asleep.after_s >= RESTED_S,
  };
  const battery = batteryOf(options.battery, volts, draw);
  const events = [...findings.wakeups, ...findings.dips].sort((a, b) => a.start_s - b.start_s);
  const warnings = misreadingsOf({
    findings,
    allowance,
    battery,
    volts,
    voltage,
    coarse: coarseOf(trace, findings.trace.duration_s, events),
    proof: options.proof,
    fullScale_mA: source.fullScale_mA,
    statuses: source.statuses ?? [],
    start_ms: trace.start_ms,
    unknown_s: trace.gaps.reduce((sum, gap) => sum + (gap.charge_mAh === null ? gap.end_s - gap.start_s : 0), 0),
    clock: timeWords(trace.start_ms).minutes,
  });
  // A draw that is not to be relied on says nothing about how many days the battery lasts.
  const believed = warnings.some((w) => w.grave)
    ? batteryOf(options.battery, volts, { ...draw, asleep_mA: null })
    : battery;
  const explanations = explanationsOf(findings, trace.start_ms);
  const complaint = options.dead_after_days === null ? null : complaintOf(options.dead_after_days, believed);
  return {
    ...findings,
    trace: { ...findings.trace, gaps: gapsWithCharge(findings, trace.gaps) },
    verdict: { ...findings.verdict, sentence: sentenceWith(findings.verdict.sentence, warnings) },
    allowance,
    bill: billOf(findings, trace.gaps, asleep?.covered_s ?? 0),
    battery: believed,
    complaint,
    explanations,
    warnings,
    next: nextStepOf(findings, warnings, explanations, complaint),
  };
}
