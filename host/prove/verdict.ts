// What the proving of a board came to, in words and as the certificate that the board keeps.
import type { Certificate, Hello } from '../contract/capture.ts';
import { checkedWords } from '../say/certificate.ts';
import type { Within } from './judge.ts';
import { MISTAKES } from './mistakes.ts';
import type { Ending } from './run.ts';

export function certificateOf(within: Within, hello: Hello, by: string, now_ms: number): Certificate {
  return {
    checked_ms: 1000 * Math.floor(now_ms / 1000),
    by,
    share_ppm: Math.round(within.share * 1e6),
    zero_uA: Math.round(within.zero_mA * 1000),
    cal_gen: hello.cal_gen ?? 0,
  };
}

/** @param kept the certificate that the board keeps now */
export const soundWords = (kept: Certificate | null): string =>
  `The board is sound${kept === null ? '' : `: ${checkedWords(kept, kept.cal_gen)}. It keeps that, and so does each of its captures`}.`;

/** @param kept the certificate that the board keeps now; null where it is not sound */
export function verdictWords(ending: Ending, kept: Certificate | null): string {
  if (ending.mistake === null) return soundWords(kept);
  const { likely, remedy } = MISTAKES[ending.mistake];
  return `Not sound. ${likely} ${remedy}`;
}
