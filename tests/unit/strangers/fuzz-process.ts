// Runs as a process of its own: fuzzes one target and says what came of it, as JSON. By hand:
// `node --import tsx tests/unit/strangers/fuzz-process.ts TARGET SECONDS SEED keep`.
import { corpusOf, keep } from './corpus.ts';
import { TARGETS } from './fuzz-targets.ts';
import { fuzz } from './fuzzer.ts';

const [name, seconds, seed, keeps] = process.argv.slice(2);
const corpus = corpusOf(name!);
const { runs, reached, kept, found } = await fuzz(TARGETS[name!]!, {
  seed: Number(seed),
  seconds: Number(seconds),
  runs: Infinity,
  corpus,
  guided: true,
});
if (keeps === 'keep') keep(name!, kept);
console.log(
  JSON.stringify({
    runs,
    reached,
    kept: kept.length,
    known: corpus.length,
    found: found.slice(0, 5).map(({ bytes, what }) => ({ what, bytes: bytes.toString('base64') })),
  }),
);
