// The list of modelled nights, by name.
import { bench } from './scenarios/bench.ts';
import { pulls } from './scenarios/pulls.ts';
import { quiet } from './scenarios/quiet.ts';
import { steady } from './scenarios/steady.ts';
import { wakes } from './scenarios/wakes.ts';
import type { Scenario } from './spec.ts';

const SCENARIOS: readonly Scenario[] = [steady, wakes, quiet, bench, pulls];

export function listScenarios(): readonly Scenario[] {
  return SCENARIOS;
}

/** Undefined where there is none of that name. */
export function getScenario(name: string): Scenario | undefined {
  return SCENARIOS.find((scenario) => scenario.name === name);
}
