// A board at a port as proving needs it: what it tells, what it sends, and its certificate. The command and
// the server prove by the same.
import type { Certificate } from '../contract/capture.ts';
import type { HostClock } from '../contract/time.ts';
import { keepsNotes, writeCertificate } from '../link/certificate.ts';
import type { OpenPort } from '../link/port.ts';
import { ProvingLink } from '../link/proving.ts';
import type { BoardToProve } from '../prove/run.ts';
import { certificateOf } from '../prove/verdict.ts';

/**
 * Opens the port. @param by who proves it
 * @throws Error in one sentence where it cannot be opened, or the firmware is too old to keep a certificate
 */
export async function boardAtHand(
  port: string,
  by: string,
  { clock, openPort }: { clock: HostClock; openPort: OpenPort },
  signal: AbortSignal,
): Promise<BoardToProve> {
  const link = new ProvingLink(port, { time: clock, openPort });
  let kept: Certificate | null = null;
  try {
    await link.open(signal);
    const { hello } = await link.told();
    if (hello !== null && !keepsNotes(hello))
      throw new Error(
        `the firmware ${hello.fw} of the board at ${port} keeps no certificate; write the shipped one with 'nightdraw flash'`,
      );
  } catch (error) {
    await link.close();
    throw error;
  }
  return {
    told: () => link.told(),
    listen: (seconds) => link.listen(seconds),
    async store(within) {
      const certificate = certificateOf(within, (await link.told()).hello!, by, clock.wall_ms());
      const stored = await writeCertificate(
        (letter, ms, value) => link.connection.order(letter, ms, value),
        certificate,
      );
      if (stored) kept = certificate;
      return stored;
    },
    kept: () => kept,
    close: () => link.close(),
  };
}
