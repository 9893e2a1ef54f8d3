// Which status lines of a board become a sentence for the user.
import { expect, test } from 'vitest';
import { BoardFaults } from '../../../host/recorder/board-words.ts';

const status = (code: string) => ({ kind: 'status' as const, seq: 0, t_us: 0, code, detail: 0 });

test('a fault is told once, and its end; a code that nobody knows is told by its name', () => {
  const faults = new BoardFaults();
  expect(faults.take(status('bus-stuck'))).toMatch(/held low/);
  expect(faults.take(status('bus-stuck'))).toBeNull();
  expect(faults.faulty).toBe(true);
  expect(faults.take(status('sensor-ok'))).toMatch(/measures again/);
  expect(faults.faulty).toBe(false);
  expect(faults.take(status('later-fault'))).toMatch(/later-fault/);
});

test('a boot after a brown-out or a hang is no fault that lasts', () => {
  const faults = new BoardFaults();
  for (const code of ['brownout', 'watchdog']) expect(faults.take(status(code))).toBeNull();
  expect(faults.faulty).toBe(false);
});
