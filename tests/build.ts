// Builds host and page once, before the first test: none runs against stale code.
import { execFileSync } from 'node:child_process';

export default function build(): void {
  execFileSync('npm', ['run', '-s', 'build'], { cwd: new URL('..', import.meta.url).pathname, stdio: ['ignore', 'inherit', 'inherit'] });
}
