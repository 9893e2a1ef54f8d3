// What a modelled car is made of, as data: modules with their sleep timers, wake-ups
// and blinking loads; battery; the night's temperature. All invented. Times in
// seconds from the start of the scenario unless they say `AfterLock`.
import type { SwitchedSpec } from './switched.ts';

/** One stretch of a wake-up, on top of the level that it rises from. */
export interface WakeStage {
  duration_s: number;
  rise_mA: number;
}

/** An inrush at the start of a load: decays with `tau_s`, over what the load then draws. */
export interface Inrush {
  peak_mA: number;
  tau_s: number;
}

export interface WakeShape {
  stages: WakeStage[];
  inrush?: Inrush;
}

export type WakeSpec = WakeShape &
  (
    | { when: 'every'; first_s: number; period_s: number; jitter_s: number }
    | { when: 'once'; at_s: number }
    | { when: 'random'; from_s: number; meanGap_s: number; leastGap_s: number }
  );

/** A load that is on for `on_s` in each `period_s`: a blinking light, a receiver that polls. */
export interface PulseTrain {
  from_s: number;
  period_s: number;
  on_s: number;
  mA: number;
}

export interface ModuleSpec {
  name: string;
  /** Draw until each time after locking; asleep afterwards. Ascending. */
  awake: { untilAfterLock_s: number; mA: number }[];
  asleep_mA: number;
  /** Each sleep timer is off by up to this, evenly spread. */
  timerJitter_s?: number;
  /** Change of the asleep draw with temperature, from 20 C on; throughout the night. */
  perDegree_mA?: number;
  wakes?: WakeSpec[];
  trains?: PulseTrain[];
}

export interface BatterySpec {
  capacity_Ah: number;
  /** Rested voltage at the start, with no load. */
  rested_V: number;
  /** Fall of the rested voltage over the whole capacity. */
  fall_V: number;
  /** Surface charge that is still there at the start, and how it fades. */
  surface_V: number;
  surfaceTau_s: number;
  internal_mOhm: number;
}

/** Cooling towards the night's temperature, with a slow swing around it. */
export interface ClimateSpec {
  start_C: number;
  end_C: number;
  tau_s: number;
  swing_C: number;
  swingPeriod_s: number;
}

export interface CarSpec {
  lock_s: number;
  modules: ModuleSpec[];
  battery: BatterySpec;
  climate: ClimateSpec;
}

export interface Scenario {
  name: string;
  /** One sentence for a list. */
  summary: string;
  length_s: number;
  seed: number;
  car: CarSpec;
  /** The same car with fuses that can be pulled by hands; absent: nothing of it can be. */
  switched?: SwitchedSpec;
}
