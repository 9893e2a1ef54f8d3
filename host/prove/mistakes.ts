// The mistakes that a board is built with, by name: what is likely wrong, and what to do. Parts and nets
// are those of firmware/BOARD.md.

export interface Mistake {
  likely: string;
  /** What to do now. */
  remedy: string;
}

export const MISTAKES = {
  'no-supply': {
    likely: 'The board has no 5 V: a fuse (F1 at the plus clamp, F5 at the ground lead), R7 or U3.',
    remedy: 'Measure from the plus clamp on: before and behind F1, behind R7, pin 3 of U3.',
  },
  'no-talk': {
    likely: 'The board has its 5 V and says nothing: no firmware, RX and TX swapped, or the crystal does not run.',
    remedy: "Load the firmware with 'nightdraw flash'; then look at pins 1 and 5 of U4, at Y1, C8 and C9.",
  },
  'supply-dips': {
    likely: 'The supply dips and the board begins anew: a poor contact at the clamp or in the holder of F1, or C3.',
    remedy: 'Press the holder of F1 and the clamps, solder C3 again, then prove the board again.',
  },
  alert: {
    likely: 'The chip answers, and tells no conversion: ALERT is open.',
    remedy: 'Solder pin 3 of U1, R4 and pin 4 of U2 again.',
  },
  'pull-up-sda': { likely: 'SDA is not pulled up: R2 is missing or not soldered.', remedy: 'Fit R2: 2.2 kΩ.' },
  'pull-up-scl': { likely: 'SCL is not pulled up: R3 is missing or not soldered.', remedy: 'Fit R3: 2.2 kΩ.' },
  'bus-short': {
    likely: 'SDA or SCL is held low although both are pulled up: a solder bridge, or a chip that was spoiled.',
    remedy: 'Without supply, measure between the pins 3, 4, 5 and 7 of U1: no short.',
  },
  'pull-up-weak': {
    likely: 'The chip answers most of the time only: R2 or R3 too large, or a cold joint at SDA or SCL.',
    remedy: 'Measure R2 and R3: 2.2 kΩ each. Solder pins 4 and 5 of U1 and pins 27 and 28 of U2 again.',
  },
  'chip-supply': {
    likely: 'U1 has no supply: pin 6 is open.',
    remedy: 'Solder pin 6 of U1 and C4 again.',
  },
  address: {
    likely: 'U1 has its supply and does not answer at 40h: A0 or A1 is not at ground, or SDA and SCL are swapped.',
    remedy: 'Pins 1 and 2 of U1 to ground; pin 4 to pin 27 of U2, pin 5 to pin 28.',
  },
  'other-chip': {
    likely: 'U1 is not the chip that was meant.',
    remedy:
      'Read what is printed on it. An INA226 is enough to find a fault of 100 mA, not to judge a car asleep; where it was meant, prove with --chip ina226.',
  },
  'no-current': {
    likely: 'No current flows through the board: F4 is missing or open, or a thick lead.',
    remedy: 'See to F4 and both thick leads, and to the fuse of your own lead.',
  },
  'sense-swapped': {
    likely: 'A current that discharges the battery reads negative: the sense leads are swapped.',
    remedy: 'Change the two thin leads over at the sense terminals of R1 (or the two thick ones).',
  },
  'past-shunt': {
    likely: 'The current goes past the shunt: both thick leads are on the same side of R1.',
    remedy: 'The lead of X3 goes to the car side of R1, F4 to its battery side.',
  },
  'sense-open': {
    likely:
      'The shunt has its voltage, and the chip does not see it: F2, F3, R5, R6, R15 or R16 is open, or pins 9 and 10 of U1 are bridged.',
    remedy:
      'Without supply, measure X3 to pin 10 of U1 and X2 to pin 9: 57 Ω each; pin 9 to pin 10: 114 Ω. On a ready-made module its own shunt must be off.',
  },
  shunt: {
    likely: 'The shunt has another value than the board takes it for.',
    remedy: "Fit the one of the parts list, or tell the board: 'nightdraw calibrate --shunt', then prove it again.",
  },
  bolts: {
    likely: 'More voltage is read than the shunt has: the sense leads sit on its bolts.',
    remedy: 'Put them on the sense terminals, where no current flows.',
  },
  filter: {
    likely:
      'Less voltage is read than the shunt has: R5, R6, R15 or R16 is too large, or one of D2, D3, D6 and D7 leaks.',
    remedy: 'Measure R5 and R6: 10 Ω each, R15 and R16: 47 Ω each. Then lift D2, D3, D6 and D7 at one end.',
  },
  range: {
    likely: 'The wide range does not read as the narrow one does, or does not come on.',
    remedy: 'Put in another U1.',
  },
  'thick-joint': {
    likely: 'The current itself jumps: a cold joint or a loose bolt in a thick lead, at F4 or at a clamp.',
    remedy: 'Tighten bolts and clamps, press the lugs again, then prove the board again.',
  },
  'sense-joint': {
    likely:
      'The current holds still and the reading jumps: a cold joint in a sense lead, at F2, F3, R5, R6, R15 or R16.',
    remedy: 'Solder that lead again and press the fuse holders; then prove the board again.',
  },
  'ground-lead': {
    likely: "The board's own current is in the reading: its ground lead is on the clamp for the cable end.",
    remedy: 'The ground lead goes to the minus clamp X2, with F5.',
  },
  zero: {
    likely: 'A current is read while none flows, more than parts explain: one end of R1 is warm, or U1 was spoiled.',
    remedy: 'Leave it alone for an hour and prove it again; if it stays so, put in another U1.',
  },
  noise: {
    likely: 'The reading is too restless while nothing flows: C1 or C4 is missing, or the sense leads are not twisted.',
    remedy: 'Fit C1 between pins 9 and 10 of U1 and C4 beside it; twist the sense leads.',
  },
  'voltage-open': {
    likely: 'No voltage is read: pin 8 of U1 or R14 is open, or D5 or C16 is a short.',
    remedy: 'Solder pin 8 of U1 and R14 again; measure clamp X1 to pin 8: 2.2 kΩ.',
  },
  'voltage-low': {
    likely: 'The voltage is taken behind R7, or the holder of F1 is poor.',
    remedy: 'R14 goes to F1, before R7.',
  },
  voltage: {
    likely: 'The voltage is wrong, and its lead is sound: U1.',
    remedy: 'Try another meter; if it stays so, put in another U1.',
  },
  warm: {
    likely: 'U1 is far warmer than the room: something hot lies against it, or a pin of it is short-circuited.',
    remedy: 'Give U3 and R7 their distance; feel what gets hot, with care.',
  },
  clock: {
    likely: "The board's clock is off: a ceramic resonator or another crystal for Y1, or the wrong C8 and C9.",
    remedy: 'Y1: a crystal of 16 MHz, 50 ppm; C8 and C9: 22 pF.',
  },
  store: {
    likely: 'The board does not keep what is written into it: its memory is worn out or was locked.',
    remedy: 'Try once more; if it stays so, put in another U2.',
  },
} satisfies Record<string, Mistake>;

export type MistakeId = keyof typeof MISTAKES;
