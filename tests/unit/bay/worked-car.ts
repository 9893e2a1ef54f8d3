// Work in the bay as a capture keeps it: prepared, a proof load, one voltage read, one
// fuse pulled, the part named, and that fuse still out.
import { HeldWork } from './held-work.ts';

const CSV = 'box,position,rating,type,feeds\na,F1,10,regular,radio\na,F2,10,regular,amplifier\na,F3,10,regular,screen';

/** A car in which the amplifier draws 200 mA beside 20 of the rest. */
export class WorkedCar {
  t_s = 0;
  proof_mA = 0;
  readonly out = new Set<string>();
  readonly entries: { t_s: number; code: string; text: string }[] = [];
  constructor(readonly work = HeldWork.start(CSV, { step_mV: 0.1 })) {}

  run(length_s: number): this {
    for (const end = this.t_s + length_s; this.t_s < end; this.t_s += 0.25) {
      const mean_mA = 20 + this.proof_mA + (this.out.has('F2') ? 0 : 200);
      this.work.reading({ t_s: this.t_s, mean_mA }, 12.6);
    }
    return this.keep();
  }

  act(action: Parameters<HeldWork['act']>[0]): this {
    this.work.act(action, Date.UTC(2026, 10, 24, 9));
    return this.keep();
  }

  private keep(): this {
    this.entries.push(...this.work.newEntries());
    return this;
  }

  kept(): { entries: WorkedCar['entries']; state: string } {
    return { entries: this.entries, state: this.work.toJSON() };
  }
}

export function workedCar(): { entries: WorkedCar['entries']; state: string } {
  const car = new WorkedCar().run(20).act({ do: 'proof', resistor_Ohm: 100 }).run(15);
  car.act({ do: 'tap' }).proof_mA = 126;
  car.run(15).act({ do: 'tap' }).proof_mA = 0;
  car.run(15).act({ do: 'ready' }).run(40);
  car.act({ do: 'evidence', name: 'amplifier', kind: 'fault code', text: '<b>seen</b> U0184', source: 'the customer' });
  car.act({ do: 'drop', name: 'F2', drop_mV: 1.5 });
  car.act({ do: 'did', what: 'pulled', name: 'F2' }).out.add('F2');
  return car.run(60).kept();
}
