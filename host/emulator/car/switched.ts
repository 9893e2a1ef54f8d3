// A modelled car whose fuses can be pulled and parts unplugged while it runs: what each
// part draws, what it hangs on, and how it wakes when it gets power again. Its charge is
// exact: between two changes every draw is constant.

export interface SwitchedPart {
  name: string;
  /** Fuses and relays above it, by name. */
  behind: string[];
  mA: number;
  /** Once it is put right; absent where nothing is wrong with it. */
  repaired_mA?: number;
}

export interface SwitchedSpec {
  parts: SwitchedPart[];
  /** After power comes back: that much more, for so long. */
  wake: { mA: number; length_s: number };
  /** Share of the current that goes through the board with the bridge on. */
  bridgedShare: number;
  /** Across a proof load. */
  battery_V: number;
}

/** Name among those that are out that stands for the bridge being on. */
export const BRIDGE = 'bridge';
/** And for a resistor across the battery behind the board: `proof 100` is one of 100 ohm. */
const PROOF = /^proof (\d+(?:\.\d+)?)$/;
/** And for a part that is put right: `repaired radio` draws what it should. */
const REPAIRED = /^repaired .+$/;
/** What stands among those that are out, and is no fuse or part that comes back. */
const isOther = (name: string) => name === BRIDGE || PROOF.test(name) || REPAIRED.test(name);

interface Stretch {
  from_s: number;
  charge_mC: number;
  steady_mA: number;
  wakes: { until_s: number; mA: number }[];
  share: number;
}

export class SwitchedCar {
  private readonly stretches: Stretch[];
  private out: ReadonlySet<string> = new Set();

  constructor(private readonly spec: SwitchedSpec) {
    this.stretches = [{ from_s: 0, charge_mC: 0, steady_mA: this.fed_mA(), wakes: [], share: 1 }];
  }

  /** From `at_s` on, exactly these names are out (`bridge`: the bridge is on). Times must ascend. */
  switch(out: ReadonlySet<string>, at_s: number): void {
    const last = this.stretches.at(-1)!;
    const from_s = Math.max(at_s, last.from_s);
    const back = [...this.out].some((name) => !isOther(name) && !out.has(name));
    this.out = new Set(out);
    const wakes = last.wakes.filter((wake) => wake.until_s > from_s);
    if (back) wakes.push({ until_s: from_s + this.spec.wake.length_s, mA: this.spec.wake.mA });
    this.stretches.push({
      from_s,
      charge_mC: this.charge_mC(from_s),
      steady_mA: this.fed_mA(),
      wakes,
      share: out.has(BRIDGE) ? this.spec.bridgedShare : 1,
    });
  }

  /** Through the board from 0 to `t_s`, in mA x s. */
  charge_mC(t_s: number): number {
    let i = this.stretches.length - 1;
    while (i > 0 && this.stretches[i]!.from_s > t_s) i--;
    const { from_s, charge_mC, steady_mA, wakes, share } = this.stretches[i]!;
    const length_s = t_s - from_s;
    const woken_mC = wakes.reduce(
      (sum, wake) => sum + wake.mA * Math.max(0, Math.min(length_s, wake.until_s - from_s)),
      0,
    );
    return charge_mC + share * (steady_mA * length_s + woken_mC);
  }

  private fed_mA(): number {
    const loads_mA = [...this.out]
      .map((name) => PROOF.exec(name))
      .filter((match) => match !== null)
      .reduce((sum, match) => sum + (this.spec.battery_V / Number(match[1])) * 1000, 0);
    return (
      loads_mA +
      this.spec.parts.reduce(
        (sum, part) =>
          sum + (this.out.has(part.name) || part.behind.some((name) => this.out.has(name)) ? 0 : this.drawOf_mA(part)),
        0,
      )
    );
  }

  private drawOf_mA({ name, mA, repaired_mA }: SwitchedPart): number {
    return this.out.has(`repaired ${name}`) ? (repaired_mA ?? mA) : mA;
  }
}
