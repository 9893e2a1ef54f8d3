// Says when the battery's voltage falls to a limit: once, and again only after it was
// well above in between.

/** A 12 V lead-acid battery at rest is about three quarters empty then (common practice, no source). */
export const LOW_V = 12;

/** A battery at rest wanders by some hundredths of a volt; a load that ends lifts it by a tenth. */
const ABOVE_V = 0.1;

export class LowBattery {
  private told = false;

  /** @param limit_V null: never */
  constructor(private readonly limit_V: number | null) {}

  /** A sentence for the user, or null. */
  take(voltage_V: number): string | null {
    if (this.limit_V === null) return null;
    if (voltage_V > this.limit_V + ABOVE_V) this.told = false;
    if (voltage_V > this.limit_V || this.told) return null;
    this.told = true;
    return `the battery is down to ${voltage_V.toFixed(2)} V (limit ${this.limit_V.toFixed(2)} V): charge it, or end the recording before it is damaged`;
  }
}
