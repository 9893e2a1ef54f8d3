// A board on the bench behind what proves it: the hands do what they are told, the meter shows what lies
// under its probes, and nothing waits for real time.
import type { Ending } from '../../../host/prove/run.ts';
import { runProof } from '../../../host/prove/run.ts';
import type { MeterId, Step, Told } from '../../../host/prove/readings.ts';
import { Bench } from './bench.ts';
import type { Load } from './bench.ts';
import type { Build } from './build-faults.ts';
import type { Specimen } from './specimens.ts';

const LOADS: Record<Step, Load> = {
  rest: 'none',
  series: 'series',
  one: 'one',
  both: 'both',
  moved: 'one',
  clock: 'none',
};
/** From the contact to the reading, and while somebody writes a number down. */
const SETTLES_S = 0.4;
/** A ping there and back. */
const PING_S = 0.002;

export interface Proved {
  ending: Ending;
  asked: MeterId[];
}

/** Proves one board as it was built. @param sensor the chip that was meant */
export async function prove(build: Build, specimen: Specimen, sensor = 'ina228'): Promise<Proved> {
  const bench = new Bench(build, specimen);
  const { run } = bench;
  // The board has had its supply for a while when its port is opened: what it told before is not heard.
  bench.wait(3);
  const opened = { statuses: run.statuses.length, hellos: run.hellos.length };
  let first: { true_s: number; t_us: number } | null = null;
  const asked: MeterId[] = [];
  const told = (): Promise<Told> => {
    const now = bench.ping();
    first ??= now;
    const known = first !== null && now !== null && now !== first;
    return Promise.resolve({
      hello: run.hellos.at(-1) ?? null,
      statuses: run.statuses.slice(opened.statuses).map(({ code }) => code),
      boots: run.hellos.length - opened.hellos,
      clock: known
        ? { board_s: (now.t_us - first!.t_us) / 1e6, host_s: now.true_s - first!.true_s, doubt_s: PING_S }
        : null,
    });
  };
  const connected = (step: Step): Promise<void> => {
    bench.connect(LOADS[step]);
    bench.wait(SETTLES_S);
    bench.move(step === 'moved');
    return Promise.resolve();
  };
  const read = (meter: MeterId): Promise<number> => {
    asked.push(meter);
    switch (meter) {
      case 'clamps_V':
        bench.connect('none');
        return Promise.resolve(bench.clamps_V());
      case 'shunt_mV':
        return Promise.resolve(bench.shunt_mV());
      case 'voltageLead_mV':
        bench.connect('none');
        return Promise.resolve(bench.voltageLead_mV());
      case 'supply_V':
        return Promise.resolve(bench.pin_V('U3', '3'));
      case 'chipSupply_V':
        return Promise.resolve(bench.pin_V('U1', '6'));
      case 'sda_V':
        return Promise.resolve(bench.pin_V('U2', '27'));
      case 'scl_V':
        return Promise.resolve(bench.pin_V('U2', '28'));
      case 'room_C':
        return Promise.resolve(Math.round(specimen.bench.room_C));
      case 'jumps':
        return Promise.resolve(bench.meterJumps() ? 1 : 0);
      default:
        return Promise.resolve(bench.ampere());
    }
  };
  const listen = (seconds: number) => {
    const [windows, voltages] = [run.windows.length, run.voltages.length];
    bench.wait(seconds);
    bench.move(false);
    return Promise.resolve({ windows: run.windows.slice(windows), voltages: run.voltages.slice(voltages) });
  };
  const store = () => {
    const before = run.answers.length;
    bench.order('k 99');
    bench.wait(0.3);
    return Promise.resolve(run.answers.slice(before).some(({ kind, tag }) => kind === 'answer' && tag === 0x99));
  };
  const ending = await runProof({ told, listen, store }, { connect: connected, read }, sensor);
  return { ending, asked };
}
