// Scenario: the car of the demo feed tree (host/bay/examples/demo-tree.csv), asleep, with
// two draws that do not belong. Its fuses come out by the names in a file of hands.
import type { Scenario } from '../spec.ts';
import type { SwitchedSpec } from '../switched.ts';

const part = (name: string, mA: number, ...behind: string[]) => ({ name, mA, behind });

export const PULLS: SwitchedSpec = {
  parts: [
    { ...part('telematics box', 236, 'L2', 'E7'), repaired_mA: 4 },
    { ...part('mirror left', 92, 'L3', 'D1', 'D9'), repaired_mA: 1 },
    part('door module left', 2, 'L3', 'D1', 'D9'),
    part('alarm siren', 3, 'L2', 'E4'),
    part('engine control', 1.5, 'L2', 'E2'),
    part('radio', 2.5, 'L3', 'D2'),
    part('instrument cluster', 2, 'L3', 'D3'),
    part('gateway', 3, 'L3', 'D4'),
    part('keyless receiver', 4, 'L3', 'D5'),
    part('door module right', 2, 'L3', 'D1', 'D10'),
    part('amplifier', 1.5, 'L4', 'T2'),
    part('park distance control', 1, 'L4', 'T1', 'T6'),
  ],
  wake: { mA: 180, length_s: 15 },
  bridgedShare: 0.25,
  battery_V: 12.6,
};

export const pulls: Scenario = {
  name: 'pulls',
  summary: 'a sleeping car with two draws, whose fuses can be pulled: give --hands FILE',
  length_s: 3600,
  switched: PULLS,
  seed: 1,
  car: {
    lock_s: 0,
    modules: [{ name: 'all of it', awake: [], asleep_mA: PULLS.parts.reduce((sum, one) => sum + one.mA, 0) }],
    battery: { capacity_Ah: 60, rested_V: 12.6, fall_V: 0.9, surface_V: 0, surfaceTau_s: 3600, internal_mOhm: 10 },
    climate: { start_C: 20, end_C: 20, tau_s: 3600, swing_C: 0, swingPeriod_s: 3600 },
  },
};
