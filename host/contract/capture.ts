// The shared shapes: what the link hands to the recorder, what a capture holds,
// and what the analysis reads. Types alone; imports nothing of ours.

/** Bits of a window's flags, as `firmware/PROTOCOL.md` numbers them. */
export const WINDOW_FLAG = {
  clipped: 0x01,
  negative: 0x02,
  rangeSwitched: 0x04,
  wideRange: 0x08,
  conversionMissed: 0x10,
  notJoined: 0x20,
} as const;

/** One window of conversions. It covers the `dur_us` that end at `t_us` (device time since boot). */
export interface WindowReading {
  kind: 'window';
  seq: number;
  t_us: number;
  dur_us: number;
  count: number;
  mean_uA: number;
  min_uA: number;
  max_uA: number;
  /** Running charge since boot in nC of device time; exact to 2^53 nC (2500 Ah). */
  charge_nC: number;
  flags: number;
}

/** Battery voltage and sense-chip temperature, once a second. */
export interface VoltageReading {
  kind: 'voltage';
  seq: number;
  t_us: number;
  bus_mV: number;
  /** NaN where the sense chip has no thermometer. */
  temp_mC: number;
  /** Lines that the board threw away since boot because its transmit ring was full. */
  dropped: number;
}

/** A fault of the board, or its end. */
export interface StatusReading {
  kind: 'status';
  seq: number;
  t_us: number;
  code: string;
  detail: number;
}

/** One conversion of a raw line. */
export interface RawSample {
  t_us: number;
  /** Shunt voltage in steps of 78.125 nV, before any calibration. */
  units: number;
  /** Bits of RAW_FLAG. */
  flags: number;
}

/** Bits of a raw conversion's flags, as `firmware/PROTOCOL.md` numbers them. */
export const RAW_FLAG = { clipped: 0x01, wideRange: 0x02, rangeSwitched: 0x04, broken: 0x08 } as const;

/** Conversions that follow one another, from the raw or the burst stream. */
export interface RawReading {
  kind: 'raw';
  seq: number;
  /** Device time of the last of them. */
  t_us: number;
  samples: RawSample[];
}

/** What the sense chip can do at best: from its data sheet, stated by the board. */
export interface ChipLimits {
  kind: 'limits';
  /** Widest full scale, either sign. */
  range_uV: number;
  /** Finest step. */
  step_pV: number;
  offset_nV: number;
  gain_ppm: number;
  conv_us: number;
  temp: boolean;
}

export type Reading = WindowReading | VoltageReading | StatusReading | RawReading;

/** What a board says of itself. */
export interface Hello {
  kind: 'hello';
  proto: number;
  fw: string;
  mcu: string;
  sensor: string;
  id: number;
  boot: number;
  cause: string;
  shunt_nOhm: number;
  gain_ppm: number;
  offset_nV: number;
  window_us: number;
  stream: string;
  /** Seconds of device time in one second of the host's: 1 on hardware, more in an emulated board. */
  speed: number;
  /** Firmware 0.2 on: what makes a burst, how the calibration came about, how often one was stored or forgotten. */
  trigger_uA?: number;
  cal?: string;
  cal_gen?: number;
}

/** What came of proving a board before its first night: kept in the board, and in each of its captures. */
export interface Certificate {
  /** When, milliseconds since 1970 UTC; whole seconds. */
  checked_ms: number;
  /** Who did it; empty where it is not told. */
  by: string;
  /** Largest difference from the meter over three currents, millionths of the current. */
  share_ppm: number;
  /** Size of what was read while nothing flowed. */
  zero_uA: number;
  /** Calibrations stored in the board by then, as the hello counts them. */
  cal_gen: number;
}

/**
 * Where samples lie in time. `regular`: sample i at `i * step_s`. `listed`: at
 * `t_s[i]`, ascending. The first sample is at 0 in both.
 */
export type TimeAxis = { kind: 'regular'; step_s: number } | { kind: 'listed'; t_s: Float64Array };

export type Samples = Float32Array | Float64Array;

/** A stretch without samples. `charge_mAh` is from the board's running charge, null where there is none. */
export interface Gap {
  start_s: number;
  end_s: number;
  charge_mAh: number | null;
  /**
   * Where the charge is not known: what it lies between if the car went on as in the minute before and after. An
   * estimate.
   */
  estimate_mAh?: { low: number; high: number };
  /**
   * Its length is sure to this; null: by a clock that may have been set. Absent: by the board's own clock or the
   * host's.
   */
  uncertain_s?: number | null;
}

/**
 * A recorded or imported current, as the analysis reads it. All arrays are of
 * one length. Positive current discharges the battery.
 *
 * `windows`: sample i is the mean over `dur_s[i]` seconds that START at its
 * time. `points`: sample i is the current at its instant; `dur_s` is null.
 */
export interface Trace {
  kind: 'windows' | 'points';
  /** Wall clock of the first sample, milliseconds since 1970 UTC; null where the source has none. */
  start_ms: number | null;
  time: TimeAxis;
  dur_s: Samples | null;
  mean_mA: Samples;
  min_mA: Samples | null;
  max_mA: Samples | null;
  /** Stretches known to be missing, with their charge where the board told it. */
  gaps: Gap[];
}

/** Battery voltage beside a current. Arrays of one length; `t_s` on the trace's axis, ascending. */
export interface VoltageTrace {
  t_s: Float64Array;
  voltage_V: Float64Array;
  /** Temperature of the sense chip, degrees Celsius; null where the source has none. */
  temp_C: Float64Array | null;
}

/** Equal bins over a stretch of time, for drawing. A bin without samples holds NaN. Currents in mA. */
export interface Bins {
  /** Start of each bin, seconds from the first sample. */
  t_s: Float64Array;
  min: Float64Array;
  mean: Float64Array;
  max: Float64Array;
}

/** One boot of a board, as far as this capture holds it. */
export interface Run {
  id: number;
  /** Why it began: `start` of the recording, a `boot` seen while recording, or `resume` after the recorder stopped. */
  reason: 'start' | 'boot' | 'resume';
  hello: Hello;
  /** Wall clock at its begin, milliseconds since 1970 UTC: a label, never a measure. */
  began_ms: number;
  /** What its sense chip can do at best; null where the board did not tell. */
  limits?: ChipLimits | null;
}

/** Scaling found after the recording. A null is the board's own value, as its hello told it. */
export interface Calibration {
  /** When it was entered, milliseconds since 1970 UTC. */
  made_ms: number;
  reason: string;
  shunt_nOhm: number | null;
  gain_ppm: number | null;
  offset_nV: number | null;
}

/** What is known of the car apart from whose it is. Every field may be absent. */
export interface CarFacts {
  /** Days after which it would not start, as the customer tells it. */
  deadAfter_days?: number;
  note?: string;
}

/** What is known of the battery. Every field may be absent. */
export interface BatteryFacts {
  type?: 'flooded' | 'agm';
  capacity_Ah?: number;
  /** Reserve capacity, minutes. */
  reserve_min?: number;
  /** Rested voltage before the recording and after it. */
  before_V?: number;
  after_V?: number;
  temperature_C?: number;
}

/** Raw conversions that follow one another, such as a burst. `t_s`: on the trace's axis, when each was ready. */
export interface Waveform {
  t_s: Float64Array;
  current_mA: Float32Array;
  /** Bits of RAW_FLAG. */
  flags: Uint8Array;
}

/** A point where device time and the capture's own time are known to meet (microseconds each). */
export interface ClockKnot {
  t_us: number;
  axis_us: number;
}

/** A note that somebody set on the time axis. `t_s` counts from the first sample. */
export interface Mark {
  t_s: number;
  text: string;
}

/** A line that was not believed, verbatim. `wall_ms` is when it came. */
export interface BadLine {
  wall_ms: number;
  reason: string;
  line: string;
}

/** What names a person or a car. All of it optional, and in no other output than where it was asked for. */
export interface Personal {
  plate?: string;
  vehicle?: string;
  customer?: string;
}

/** What a capture says of itself without its readings being read. */
export interface CaptureInfo {
  path: string;
  kind: 'recorded' | 'imported';
  /** `recording` also where the recorder was stopped hard and nobody resumed it. */
  state: 'recording' | 'finished';
  software: string;
  created_ms: number;
  job: string | null;
  /** Where the readings come from, free form: a scenario and its seed, or the name of an imported file. */
  origin: Record<string, unknown> | null;
  /** Wall clock of the first sample, milliseconds since 1970 UTC; null where the source has none or holds none. */
  start_ms: number | null;
  /** From the first sample to the end of the last; 0 without samples. */
  duration_s: number;
  samples: number;
  /** Raw conversions kept beside or instead of windows: bursts, or the whole recording. */
  rawSamples: number;
  runs: Run[];
  marks: Mark[];
  /** Later calibrations, the oldest first; the last one is in use unless a reader asks for the original. */
  calibrations: Calibration[];
  car: CarFacts | null;
  battery: BatteryFacts | null;
  /** Of the board, as it told it when the recording began; null where it was not proved. */
  certificate?: Certificate | null;
  /** Every line that was not believed is counted; the first ones are kept. */
  badLineCount: number;
  badLines: BadLine[];
}
