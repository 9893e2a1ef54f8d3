// Prints the run's counts as one plain line, for whoever reads the log by machine.
import type { Reporter, TestModule } from 'vitest/node';

export default class CountsReporter implements Reporter {
  onTestRunEnd(modules: readonly TestModule[]): void {
    let passed = 0;
    let failed = 0;
    let skipped = 0;
    for (const module of modules) {
      // A file that does not load has no tests to count; it must not pass for green.
      if (module.state() === 'failed' && [...module.children.allTests()].length === 0) failed++;
      for (const test of module.children.allTests()) {
        const { state } = test.result();
        if (state === 'passed') passed++;
        else if (state === 'failed') failed++;
        else skipped++;
      }
    }
    console.log(`${passed} passed, ${failed} failed, ${skipped} skipped`);
  }
}
