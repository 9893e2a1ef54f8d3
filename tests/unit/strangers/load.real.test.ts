// Everything at once that somebody could send who means harm, at the real program while it
// records: cheap questions are answered, the live stream loses nothing, its memory stays
// bounded, and no capture of the folder is changed by a bit. How long anybody waits
// meanwhile is the bench's to hold (tests/bench/attacks.ts).
import { afterAll, beforeAll, expect, test } from 'vitest';
import { AttackedServer } from './attacked-server.ts';

const MEMORY_MB = 500;
const attacked = new AttackedServer();

beforeAll(() => attacked.open(), 120_000);
afterAll(() => attacked.close(), 60_000);

const EXPECTED: Record<string, (back: never) => void> = {
  abandoned: ({ before, after }: { before: { ms: number; status: number }; after: { ms: number; status: number } }) => {
    expect([before.status, after.status]).toEqual([200, 200]);
    // What ran as they left, and its own; not two hundred of them.
    expect(after.ms).toBeLessThan(5 * before.ms + 2000);
  },
  unread: ({ closed }: { closed: boolean }) => expect(closed).toBe(true),
  pictures: ({ answered }: { answered: number }) => expect(answered).toBe(250),
  'pictures unread': () => undefined,
  slow: () => undefined,
  bodies: ({ status, closed }: { status: string; closed: boolean }) => {
    expect([status, closed]).toEqual(['413', true]);
  },
  head: ({ status }: { status: string }) => expect(status).toBe('200'),
  elsewhere: ({ leaked }: { leaked: string[] }) => expect(leaked).toEqual([]),
  reports: () => undefined,
  lists: ({ answered }: { answered: number }) => expect(answered).toBe(125),
};

test('cheap questions, the live stream, the memory and the files hold under every attack', async () => {
  const before = attacked.hashes();
  for (const [attack, expected] of Object.entries(EXPECTED)) {
    const felt = await attacked.under(attack);
    expect(felt.refused, attack).toEqual([]);
    expect(felt.memory_MB, attack).toBeLessThan(MEMORY_MB);
    expected(felt.back as never);
  }
  expect(attacked.hashes()).toEqual(before);
  const stopped = await attacked.ask(`/api/recordings/${attacked.recording}/stop`, { method: 'POST', body: {} });
  expect(JSON.parse(stopped.text)).toMatchObject({ state: 'ended', line: { lost: 0, damaged: 0 } });
  expect(attacked.said.split('\n').filter((text) => text !== '' && !/The view is at/.test(text))).toEqual([]);
}, 300_000);
