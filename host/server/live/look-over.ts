// A feed tree looked over before work begins with it.

import { readTree } from '../../bay/tree/tree-build.ts';
import type { TreeAnswer } from '../../contract/api.ts';

/** Mistakes told at once: a file full of them is mended from the top. */
const COMPLAINTS_MAX = 20;

export function lookedOver(text: string): TreeAnswer {
  const { tree, complaints, warnings } = readTree(text);
  const count = (kind: string) => tree?.nodes.filter((node) => node.kind === kind).length ?? 0;
  return {
    fuses: count('fuse'),
    relays: count('relay'),
    parts: count('part'),
    complaints: complaints.slice(0, COMPLAINTS_MAX),
    warnings: warnings.slice(0, COMPLAINTS_MAX),
  };
}
