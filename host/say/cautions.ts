// The cautions, in one wording for every place where a hand may follow them: terminal, page,
// report, bay. Each has its source. `practice`: common practice, no source. `memory`: known
// from the trade, written without a source at hand. Imports nothing: the page takes it too.

export interface Caution {
  text: string;
  source: string;
}

const practice = 'common practice, no source';

export const CAUTIONS = {
  maker: {
    text: "The car maker's procedure and local regulations come before this. Trained, authorised persons only.",
    source: practice,
  },
  bridgeFirst: {
    text: 'Bridge first: it goes on before the cable comes off, and comes off only when all is quiet.',
    source: practice,
  },
  bridgeAgain: {
    text: 'Bridge on again before a fuse goes back in or a door is opened.',
    source:
      "a car maker's service manual, battery drain test (2010): the test switch is closed before any door is opened or anything switched on",
  },
  neverStart: {
    text: 'Never crank, never switch the ignition on, never jump-start through the board or the bridge: both burn.',
    source:
      "200 A and more are worked out in firmware/BOARD.md; a car maker's repair guide (2023): do not crank or switch on with a meter in series",
  },
  body: {
    text: 'Eye protection on; rings and watch off. No flame, no spark, fresh air: a battery gives off hydrogen. No tool across plus and chassis.',
    source:
      'safety pages of two makers of batteries (eye protection, ventilation, sparks, conductors); rings and watch: instructions of battery chargers',
  },
  restricted: {
    text: 'Airbag, seat belt and high-voltage circuits: never pull, never unplug, no board in them; measure only if the maker allows it.',
    source:
      "car makers' service manuals: restraint systems by their own procedure; UN Regulation No. 100: what high voltage is",
  },
  hybrid: {
    text: "Hybrid or electric car: the maker's procedure decides whether the negative cable may be opened at all. No charging lead, no pre-heating, no remote app during the night.",
    source:
      "a car maker's owner's manual, high-voltage battery (2020s): it may charge the 12 V battery while the vehicle is off; National Fire Protection Association, 2012: the 12 V side can stay live with its battery off",
  },
  hybridCharges: {
    text: 'Hybrid or electric car: its DC/DC converter may charge the 12 V battery unasked while parked, which is normal there.',
    source: "a car maker's owner's manual (2020s), as above",
  },
  nobodyStarts: {
    text: 'Nobody starts the car, also not by remote control or app, until the board is out.',
    source: practice,
  },
  earthedCharger: {
    text: 'An earthed charger on the computer leads current past the board, and the reading falls low: run it on its own battery, or use a USB isolator.',
    source: 'firmware/BOARD.md, "USB and ground"',
  },
  morning: {
    text: 'In the morning: bridge on, board out, cable on the post, bridge off last.',
    source: practice,
  },
  lockedOut: {
    text: 'Electric latches and boot: keep one open and the mechanical key at hand; if the supply fails, they may lock you out.',
    source: 'memory',
  },
  frozen: {
    text: 'Never charge a frozen battery.',
    source:
      'safety pages of a maker of batteries: never charge a damaged or frozen one; instructions of battery chargers',
  },
  dropsFirst: {
    text: 'Read voltages across the fuses before you pull one: reading disturbs nothing.',
    source: 'published workshop articles: pulling and refitting wakes modules, reading across a fuse does not',
  },
  proofLoad: {
    text: 'Fused lead; plus first, last contact at the chassis away from the battery; for seconds only. The resistor gets hot: do not touch it.',
    source: "last contact away from the battery: car makers' owner's manuals, jump-starting; the rest practice",
  },
  lamp: {
    text: 'Lamp lead with a 5 A fuse at the battery; last contact at the board, away from the battery; the lamp gets hot: do not touch it. Meter back to volts afterwards.',
    source: 'as for the proof load; a meter left on amperes is a short circuit: instructions of multimeters',
  },
  provingLoad: {
    text: 'Lead with a 15 A fuse at the battery; last contact at X3, away from the battery; ten seconds at most. The resistors get hot: do not touch them. Meter back to volts afterwards.',
    source: 'as for the lamp; ten seconds: a meter bears 10 A for so long (instructions of multimeters)',
  },
  motorStarts: {
    text: 'Bridge on before it goes in: a motor that starts draws 20 A and more.',
    source: 'memory',
  },
} satisfies Record<string, Caution>;

export type CautionId = keyof typeof CAUTIONS;

const words = (...ids: CautionId[]): string[] => ids.map((id) => CAUTIONS[id].text);

/** Before anything is clamped to a car: live page, bay. */
export const BEFORE_CLAMPING: readonly string[] = words(
  'maker',
  'hybrid',
  'hybridCharges',
  'body',
  'bridgeFirst',
  'bridgeAgain',
  'neverStart',
  'nobodyStarts',
  'restricted',
  'earthedCharger',
  'morning',
);
/** Before a fuse is touched: the night's page, `analyse`, the report. */
export const BEFORE_PULLING: readonly string[] = words(
  'maker',
  'dropsFirst',
  'bridgeAgain',
  'neverStart',
  'restricted',
  'body',
);
/** While the board is clamped on: `record`. */
export const WHILE_RECORDING: readonly string[] = words(
  'maker',
  'hybrid',
  'body',
  'bridgeFirst',
  'bridgeAgain',
  'neverStart',
  'nobodyStarts',
);
/** Off the car, with a battery and a lamp: `calibrate`. */
export const WHILE_CALIBRATING: readonly string[] = words('body', 'lamp');
