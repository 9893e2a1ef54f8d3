// What a healthy car is known to do while parked, with published timings. A match means that a healthy
// car can do this, never that it is this. Features that are not published are left out or marked
// "practice". Recordings start when the clamps go on, which is near key-off and not at it.

/** Lower and upper limit, both included. */
type Between = readonly [low: number, high: number];

/** One thing that a healthy car may do, and the features by which it is recognised. */
export interface Cause {
  code: string;
  /** Its name, as it stands in sentences. */
  what: string;
  /** `event` for a wake-up or a family, `step` for a fall of the level. */
  kind: 'event' | 'step';
  /** The features, absent where nothing is published. Steps have `when_s` and `height_mA` alone. */
  period_s?: Between;
  length_s?: Between;
  height_mA?: Between;
  peak_mA?: Between;
  /** Times from the start of the recording, any of which fits. */
  when_s?: readonly Between[];
  /** Most times in a night. */
  count_max?: number;
  /** Fewest times in a night. */
  count_min?: number;
  source: string;
  /** What to do in order to find out. */
  try: string;
}

const H = 3600;
const MIN = 60;
const MA_PER_A = 1000;

/** The table of known causes, each with its source. */
export const CAUSES: readonly Cause[] = [
  {
    // 80 to 240 mA for about 45 s every 9 to 10 min: service manual 2001. A third either way on the
    // length, a fifth on
    // the current.
    code: 'telematics-registration',
    what: 'an older telematics unit that registers with its network',
    kind: 'event',
    period_s: [9 * MIN * 0.95, 10 * MIN * 1.05],
    length_s: [30, 60],
    height_mA: [64, 288],
    count_min: 3,
    source: "80 to 240 mA for about 45 s every 9 to 10 min (a car maker's service manual, 2001)",
    try: 'Pull the telematics fuse at a quiet moment, or take the car out of reach of the network, and see whether it stops.',
  },
  {
    // 40 mA or less for 48 h with spikes to 80 mA: service manual 2010.
    code: 'telematics-standby',
    what: 'a newer telematics unit on stand-by',
    kind: 'event',
    peak_mA: [40, 100],
    count_min: 3,
    source: "40 mA or less for 48 h, spikes to 80 mA (a car maker's service manual, 2010)",
    try: 'Record past 48 h, or pull the telematics fuse at a quiet moment.',
  },
  {
    // Keyless receiver spikes of 100 mA: service manual 2010. That they last at most some seconds is
    // practice.
    code: 'keyless-receiver',
    what: 'the keyless receiver that answers a key or radio noise nearby',
    kind: 'event',
    peak_mA: [70, 140],
    length_s: [0, 5],
    source: "spikes of 100 mA (a car maker's service manual, 2010)",
    try: 'Take every key farther away (1.5 m at least, better another building) and record again.',
  },
  {
    // 5 h after key-off; hot engine 7 h, then 9.5 h: repair manual 2006. A twelfth either way, since
    // the recording
    // starts near key-off, not at it.
    code: 'leak-test-pump',
    what: 'the leak test pump of the fuel vapour system',
    kind: 'event',
    when_s: [
      [5 * H * 0.92, 5 * H * 1.08],
      [7 * H * 0.92, 7 * H * 1.08],
      [9.5 * H * 0.92, 9.5 * H * 1.08],
    ],
    length_s: [20, 20 * MIN],
    count_max: 3,
    source:
      "5 h after key-off, with a hot engine 7 h and 9.5 h (a car maker's repair manual, 2006); its length of up to 20 min: practice",
    try: 'Listen at the fuel tank at that time of the next night, or start the recording at another hour: the test keeps its distance from key-off, not the clock.',
  },
  {
    // At key-off, up to 45 min, about 1 A: service manual 2010. A half either way on the current.
    code: 'leak-test-vacuum',
    what: 'the vacuum leak test of the fuel vapour system, at key-off',
    kind: 'event',
    when_s: [[0, 15 * MIN]],
    length_s: [MIN, 45 * MIN],
    height_mA: [0.6 * MA_PER_A, 1.5 * MA_PER_A],
    count_max: 1,
    source: "at key-off, up to 45 min, about 1 A (a car maker's service manual, 2010)",
    try: 'Start another recording 45 min after key-off: it should be gone.',
  },
  {
    // Half awake for up to 3 h at 50 mA or less: service manual 2010.
    code: 'climate-half-awake',
    what: 'the climate control that stays half awake',
    kind: 'step',
    when_s: [[20 * MIN, 3 * H * 1.05]],
    height_mA: [5, 50],
    source: "up to 3 h, 50 mA or less (a car maker's service manual, 2010)",
    try: 'Judge the car by what it draws after that; a recording of one hour would miss it.',
  },
  {
    // Consumer shutdown at 8 min: closed-circuit current measurement of a car maker's workshop system.
    code: 'consumer-shutdown',
    what: 'the timed load shut-off',
    kind: 'step',
    when_s: [[7 * MIN, 9 * MIN]],
    source: "at 8 min (a car maker's workshop system)",
    try: 'Nothing to do: it is part of going to sleep.',
  },
  {
    code: 'cluster-time-out',
    what: 'the instrument cluster that times out',
    kind: 'step',
    when_s: [
      [30 * MIN, 40 * MIN],
      [70 * MIN, 80 * MIN],
    ],
    source: "at 30 to 40 and at 70 to 80 min (a car maker's workshop system)",
    try: 'Nothing to do: it is part of going to sleep.',
  },
  {
    // Asleep in 2 to 3 min, later steps at 16 and 60 min: the same system. A tenth either way.
    code: 'late-step',
    what: 'a control unit that sleeps late',
    kind: 'step',
    when_s: [
      [14.4 * MIN, 17.6 * MIN],
      [54 * MIN, 66 * MIN],
    ],
    source: "steps at 16 and 60 min (a car maker's workshop system)",
    try: 'Nothing to do: it is part of going to sleep.',
  },
];
