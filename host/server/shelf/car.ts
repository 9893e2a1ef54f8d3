// Which nights are of one car, without keeping whose it is: the index lies beside the captures
// and may be copied with them, and what was taken out of a capture must not be found in it.

import { createHmac } from 'node:crypto';

/**
 * A mark that nights of one car have in common. Of a plate, a sum that only this computer's key gives: whoever has the
 * index alone cannot try plates against it. Without a plate the job, up to its first comma or semicolon, as in
 * "order 17, after the repair"; without one, each night is a car of its own.
 * @param key null: this computer keeps none, and plates are left aside
 */
export function carOf({ plate, job, name }: { plate: string; job: string; name: string }, key: string | null): string {
  const letters = plate.toUpperCase().replace(/[^\p{L}\p{N}]/gu, '');
  const sum = (text: string) =>
    createHmac('sha256', key ?? '')
      .update(text)
      .digest('hex')
      .slice(0, 24);
  if (key !== null && letters !== '') return sum(`plate ${letters}`);
  const order = (job.split(/[,;]/)[0] ?? '').trim().toLowerCase().replace(/\s+/g, ' ');
  return sum(order === '' ? `night ${name}` : `job ${order}`);
}
