// What the fuzzing kept of each target, a line of base64 for each.
import { existsSync, readFileSync, writeFileSync } from 'node:fs';

const fileOf = (target: string): URL => new URL(`corpus/${target}.txt`, import.meta.url);

export function corpusOf(target: string): Buffer[] {
  const file = fileOf(target);
  return existsSync(file)
    ? readFileSync(file, 'utf8')
        .split('\n')
        .filter((line) => line !== '')
        .map((line) => Buffer.from(line, 'base64'))
    : [];
}

export function keep(target: string, more: readonly Buffer[]): void {
  const lines = new Set([...corpusOf(target), ...more].map((bytes) => bytes.toString('base64')));
  writeFileSync(
    fileOf(target),
    [...lines]
      .sort()
      .map((line) => `${line}\n`)
      .join(''),
  );
}
