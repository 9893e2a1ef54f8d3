// One proof from its first question to its end: asks the judging what is next, has it done by whoever stands
// at the board, and hands back what came of it.
import type { Certificate, VoltageReading, WindowReading } from '../contract/capture.ts';
import { next } from './judge.ts';
import type { Next, Within } from './judge.ts';
import { emptyProof, listened } from './readings.ts';
import type { MeterId, Proof, Step, Told } from './readings.ts';
import { STEP_WORDS } from './steps.ts';

/** The board, as long as it is proved. */
export interface ProvedBoard {
  told(): Promise<Told>;
  /** What it sends in so many seconds. */
  listen(seconds: number): Promise<{ windows: WindowReading[]; voltages: VoltageReading[] }>;
  /** Has the certificate kept by the board; false where it did not keep it. */
  store(within: Within): Promise<boolean>;
}

/** It is opened for the proof, and closed after it. */
export interface BoardToProve extends ProvedBoard {
  /** What it keeps now; null before it was found sound. */
  kept(): Certificate | null;
  close(): Promise<void>;
}

/** Whoever stands at the board. Both may throw to end the proof. */
export interface Hands {
  /** Resolves once it is connected as the step says. */
  connect(step: Step): Promise<void>;
  /** Resolves to what the meter shows. */
  read(meter: MeterId): Promise<number>;
}

export type Ending = Extract<Next, { do: 'end' }>;

/** A fault that lasts is told again after 10 s (firmware/PROTOCOL.md, "S status"). */
const FAULT_TOLD_S = 11;

/** A board that sends no readings has a fault; one that began before the port was opened is told again. */
async function heard(board: ProvedBoard, seconds: number): ReturnType<ProvedBoard['listen']> {
  const readings = await board.listen(seconds);
  if (readings.windows.length > 0 || (await board.told()).statuses.length > 0) return readings;
  return board.listen(FAULT_TOLD_S);
}

/**
 * Proves a board. @param sensor the chip that was meant
 * @throws what board and hands throw
 */
export async function runProof(board: ProvedBoard, hands: Hands, sensor: string): Promise<Ending> {
  let proof: Proof = { ...emptyProof(), told: await board.told() };
  for (;;) {
    const now = next(proof, sensor);
    if (now.do === 'end') return now;
    if (now.do === 'listen') {
      await hands.connect(now.step);
      const { windows, voltages } = await heard(board, STEP_WORDS[now.step].listen_s);
      proof = { ...proof, listened: { ...proof.listened, [now.step]: listened(windows, voltages) } };
    } else if (now.do === 'read') {
      const value = await hands.read(now.meter);
      proof = { ...proof, meter: { ...proof.meter, [now.meter]: value } };
    } else proof = { ...proof, stored: await board.store(now.within) };
    proof = { ...proof, told: await board.told() };
  }
}
