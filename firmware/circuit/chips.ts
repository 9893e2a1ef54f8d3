// The pins of the chips, as their data sheets number and name them. The electrical roles are
// those that the rule check of a schematic program knows.
import type { Pin, PinRole } from './shape.ts';

/** `NUMBER NAME role` a line. */
function pins(text: string): Pin[] {
  return text
    .trim()
    .split('\n')
    .map((line) => {
      const [number, name, ...role] = line.trim().split(' ');
      return { number: number!, name: name!, role: role.join(' ') as PinRole };
    });
}

/** Data sheet SLYS021A, section 5, VSSOP-10; the INA226 (SBOS547) has the same pins. */
export const INA228: readonly Pin[] = pins(`
  1 A1 input
  2 A0 input
  3 ALERT pulls low
  4 SDA both
  5 SCL input
  6 VS supply in
  7 GND supply in
  8 VBUS input
  9 IN- input
  10 IN+ input`);

/** Data sheet DS40002061, section 1, 28 pins, DIP. */
export const ATMEGA328P: readonly Pin[] = pins(`
  1 PC6/RESET both
  2 PD0 both
  3 PD1 both
  4 PD2 both
  5 PD3 both
  6 PD4 both
  7 VCC supply in
  8 GND supply in
  9 PB6/XTAL1 both
  10 PB7/XTAL2 both
  11 PD5 both
  12 PD6 both
  13 PD7 both
  14 PB0 both
  15 PB1 both
  16 PB2 both
  17 PB3 both
  18 PB4 both
  19 PB5 both
  20 AVCC supply in
  21 AREF passive
  22 GND supply in
  23 PC0 both
  24 PC1 both
  25 PC2 both
  26 PC3 both
  27 PC4 both
  28 PC5 both`);

/** Data sheet of the TLE4264G (1998-11-01), "Pin definitions", SOT-223. */
export const TLE4264G: readonly Pin[] = pins(`
  1 VI supply in
  2 GND supply in
  3 VQ supply out
  4 GND supply in`);

/** Data sheet DS_FT232R, section 3, SSOP-28; pins 8 and 24 are not connected inside. */
export const FT232RL: readonly Pin[] = pins(`
  1 TXD output
  2 DTR output
  3 RTS output
  4 VCCIO supply in
  5 RXD input
  6 RI input
  7 GND supply in
  8 NC passive
  9 DSR input
  10 DCD input
  11 CTS input
  12 CBUS4 both
  13 CBUS2 both
  14 CBUS3 both
  15 USBDP both
  16 USBDM both
  17 3V3OUT supply out
  18 GND supply in
  19 RESET input
  20 VCC supply in
  21 GND supply in
  22 CBUS1 both
  23 CBUS0 both
  24 NC passive
  25 AGND supply in
  26 TEST input
  27 OSCI input
  28 OSCO output`);

/**
 * Data sheet ADuM3160 rev. C, "Pin configuration", SOIC-16 wide. VDD1 and VDD2 are the outputs
 * of its own 3.3 V regulators where VBUS1 and VBUS2 are fed with 5 V.
 */
export const ADUM3160: readonly Pin[] = pins(`
  1 VBUS1 supply in
  2 GND1 supply in
  3 VDD1 supply out
  4 PDEN input
  5 SPU input
  6 UD- both
  7 UD+ both
  8 GND1 supply in
  9 GND2 supply in
  10 DD+ both
  11 DD- both
  12 PIN input
  13 SPD input
  14 VDD2 supply out
  15 GND2 supply in
  16 VBUS2 supply in`);

export interface PinLimit {
  /** As `TOLD` of spice-cases.ts calls it. */
  pin: string;
  least_V: number;
  most_V: number;
  source: string;
}

/** Absolute limits, against the chip's ground. VS stands for the supply of U1, U2, U4 and U5 together. */
export const PIN_LIMITS: readonly PinLimit[] = [
  {
    pin: 'IN+',
    least_V: -0.3,
    most_V: 85,
    source: 'INA228 SLYS021A, common-mode input range; -0.3 V as absolute: INA219 SBOS448G 7.1, of the same family',
  },
  { pin: 'IN-', least_V: -0.3, most_V: 85, source: 'the same' },
  { pin: 'VBUS', least_V: -0.3, most_V: 85, source: 'INA228 SLYS021A, 0 to 85 V; -0.3 V: as IN+' },
  {
    pin: 'VS',
    least_V: -0.3,
    most_V: 6,
    source:
      "ATmega328P 8271H 29.1, 6.0 V; INA219 SBOS448G 7.1, of the INA228's family, 6 V; FT232RL 6.0 V, ADuM3160 6.5 V: memory; -0.3 V the strictest of them (memory)",
  },
  { pin: 'VI', least_V: -42, most_V: 45, source: 'TLE42744 rev. 1.1, 4.1.1, and TLE4309: of the same family' },
];

/**
 * What a pin of the INA228 bears beyond its volts as long as no more flows into or out of it (INA219 SBOS448G 7.1,
 * of the same family: 5 mA).
 */
export const PIN_CURRENT_A = 0.005;
/** A discharge: what the chip is tested with, 2 kV through 1.5 kΩ (human-body model; SLYS021A: memory). */
export const PIN_DISCHARGE_A = 2000 / 1500;
