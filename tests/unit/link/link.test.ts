// What happens between two connections: a port that closes slowly is never opened while it
// does, a search that holds a port refuses no recorder, and each loss is told once.
import { beforeEach, describe, expect, test } from 'vitest';
import { findBoards } from '../../../host/link/find.ts';
import { openLink } from '../../../host/link/link.ts';
import type { Link } from '../../../host/link/link.ts';
import { VirtualTime } from '../../virtual-time.ts';
import { MemoryPorts } from '../recorder/memory-ports.ts';
import { ScriptedBoard } from '../recorder/scripted-board.ts';

const never = new AbortController().signal;
let time: VirtualTime;
let ports: MemoryPorts;
let board: ScriptedBoard;
let told: string[];
let windows: number;

beforeEach(() => {
  time = new VirtualTime();
  ports = new MemoryPorts(time);
  board = new ScriptedBoard({ link: 'port' }, ports);
  told = [];
  windows = 0;
});

const outside = () => ({ time, openPort: ports.openPort, listPorts: () => Promise.resolve([]) });

function opened(): Promise<Link> {
  return openLink(
    'port',
    {
      up: () => (told.push('up'), null),
      down: (reason) => told.push(reason),
      reading: ({ kind }) => void (kind === 'window' && windows++),
      hello: () => undefined,
      bad: () => undefined,
    },
    outside(),
    never,
  );
}

describe('a port that closes slowly', () => {
  test('after silence it is closed once and opened again when it is free', async () => {
    const link = await time.over(opened());
    ports.closes_ms = 1500;
    board.talks = false;
    await time.until(() => told.length > 1, 'the loss');
    board.talks = true;
    await time.until(() => told.at(-1) === 'up', 'the board again');
    await time.pass(20_000);
    expect(told).toEqual(['up', 'nothing came for 15 s', 'up']);
    const before = windows;
    await time.pass(1000);
    expect(windows - before).toBe(20);
    await time.over(link.close());
  });

  test('after a write that fails as well', async () => {
    const link = await time.over(opened());
    ports.closes_ms = 900;
    ports.deaf = true;
    link.askHello();
    await time.until(() => told.length > 1, 'the loss');
    ports.deaf = false;
    await time.until(() => told.at(-1) === 'up', 'the board again');
    expect(told).toEqual(['up', 'the port takes nothing any more', 'up']);
    await time.over(link.close());
  });

  test('one that never tells that it is closed is waited for two seconds', async () => {
    const link = await time.over(opened());
    ports.closes_ms = 3600_000;
    const from_us = time.now_us();
    await time.over(link.close());
    expect((time.now_us() - from_us) / 1e6).toBeCloseTo(2, 1);
  });
});

describe('a port that somebody has open', () => {
  test('a search that holds it for some seconds refuses no recorder that begins just then', async () => {
    board.talks = false;
    const search = findBoards(() => Promise.resolve([{ path: 'port', about: null }]), outside(), never);
    await time.pass(100);
    const link = opened();
    await time.pass(3000);
    expect(told).toEqual([]);
    board.talks = true;
    await time.over(search);
    await time.over(link);
    expect(told).toEqual(['up']);
  });

  test('another program that keeps it is told after six seconds', async () => {
    await time.over(opened());
    const from_us = time.now_us();
    await expect(time.over(opened())).rejects.toThrow(/in use by another program/);
    expect((time.now_us() - from_us) / 1e6).toBeCloseTo(6, 0);
  });
});

test('what is closed leaves no timer behind', async () => {
  const link = await time.over(opened());
  await time.pass(5000);
  await time.over(link.close());
  board.stop();
  expect(time.waiting).toBe(0);
});
