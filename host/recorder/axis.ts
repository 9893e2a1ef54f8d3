// The capture's time axis by this computer's clock that never steps. An emulated board
// at another speed makes the axis run faster or slower, from where it came on.

export class HostAxis {
  /**
   * @param base_us axis time at `since_us`
   * @param since_us reading of the computer's clock
   * @param speed seconds of the axis in one of the computer's
   */
  constructor(
    private base_us: number,
    private since_us: number,
    private speed: number,
  ) {}

  /** Axis time at a reading of the computer's clock, both microseconds. */
  at(host_us: number): number {
    return this.base_us + (host_us - this.since_us) * this.speed;
  }

  /** From `now_us` on the axis runs at another speed; what lies before stays where it is. */
  changeSpeed(speed: number, now_us: number): void {
    this.base_us = this.at(now_us);
    this.since_us = now_us;
    this.speed = speed;
  }
}
