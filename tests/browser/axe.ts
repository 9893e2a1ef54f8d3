// The accessibility rules of axe-core, run in the page that is open.
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import type { Page } from 'playwright-core';
import { expect } from 'vitest';

const AXE = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

/**
 * Fails with each rule that is broken and the elements that break it, or where hardly a rule had anything to look at.
 */
export async function expectAccessible(page: Page, where: string): Promise<void> {
  await page.evaluate(AXE);
  const found = await page.evaluate(async () => {
    type Outcome = { id: string; nodes: { html: string }[] }[];
    const { violations, passes } = await (
      window as unknown as { axe: { run(): Promise<{ violations: Outcome; passes: Outcome }> } }
    ).axe.run();
    return {
      violations: violations.map(
        ({ id, nodes }) => `${id}: ${nodes.map((node) => node.html.slice(0, 160)).join(' | ')}`,
      ),
      passed: passes.length,
    };
  });
  expect(found.violations, where).toEqual([]);
  expect(found.passed, `${where}: rules that found something to look at`).toBeGreaterThan(10);
}
