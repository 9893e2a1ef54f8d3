// Finding boards: what is there, said per port, and nothing said to anybody else's device.
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { VirtualTime } from '../../virtual-time.ts';
import { MemoryPorts } from '../recorder/memory-ports.ts';
import { findBoards, Search } from '../../../host/link/find.ts';
import { knownBoardsPath, readKnownBoards, rememberBoard } from '../../../host/link/known-boards.ts';
import { noHelloError, openError } from '../../../host/link/port-errors.ts';
import { portsInDev, withoutDriver } from '../../../host/link/ports.ts';
import { ScriptedBoard } from '../recorder/scripted-board.ts';

let folder: string;
const devices: ScriptedBoard[] = [];
const never = new AbortController().signal;
let time: VirtualTime;
let ports: MemoryPorts;
const outside = () => ({ time, openPort: ports.openPort });

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'nightdraw-find-'));
  time = new VirtualTime();
  ports = new MemoryPorts(time);
});
afterEach(() => {
  for (const device of devices.splice(0)) device.stop();
  rmSync(folder, { recursive: true, force: true });
});

function device(name: string, options: Partial<ConstructorParameters<typeof ScriptedBoard>[0]> = {}): ScriptedBoard {
  const made = new ScriptedBoard({ link: join(folder, name), ...options }, ports);
  devices.push(made);
  return made;
}
const listOf =
  (...names: string[]) =>
  () =>
    Promise.resolve(names.map((name) => ({ path: join(folder, name), about: null })));

describe('finding', () => {
  test('boards among other devices; the others hear not one byte', async () => {
    device('a', { id: 0xa1 });
    device('b', { id: 0xb2 });
    const silent = device('silent');
    silent.talks = false;
    const other = device('other');
    other.talks = false;
    time.every(50, () => other.send('$GPTXT,01,01,02,u-navigation*55\r\n'));
    const garbled = device('garbled');
    garbled.talks = false;
    time.every(50, () => garbled.send('\u00f8\u0080\u00fe\u0006\u00e0'.repeat(9)));
    const found = await time.over(
      findBoards(listOf('a', 'b', 'silent', 'other', 'garbled', 'missing'), outside(), never),
    );
    expect(found.map(({ hello, trouble }) => hello?.id ?? trouble?.kind)).toEqual([
      0xa1,
      0xb2,
      'silent',
      'foreign',
      'baud',
      'absent',
    ]);
    expect([silent.heard, other.heard, garbled.heard]).toEqual(['', '', '']);
    expect(found[4]!.trouble!.message).toMatch(/bytes are no text: it talks at another rate than 500000 baud/);
  });

  test('a board that moved is found at a new name, whose other devices are asked once', async () => {
    device('old', { id: 7 });
    const list: string[] = ['old', 'neighbour'];
    const search = await Search.begin(() => listOf(...list)());
    expect(await time.over(search.look(7, outside(), never))).toBeNull();
    devices[0]!.stop();
    device('new', { id: 7 });
    const stranger = device('stranger');
    stranger.talks = false;
    list.push('stranger', 'new');
    expect(await time.over(search.look(7, outside(), never))).toBe(join(folder, 'new'));
    expect(stranger.heard).toBe('');
  });

  test('no list: an error for whoever asks for one, no harm to a search', async () => {
    const none = () => Promise.reject(new Error('this system gives no list of ports'));
    await expect(findBoards(none, outside(), never)).rejects.toThrow('no list of ports');
    const search = await Search.begin(none);
    expect(await time.over(search.look(7, outside(), never))).toBeNull();
  });
});

describe('ports by their names', () => {
  test('in /dev, where the list is not to be had', () => {
    for (const name of ['ttyUSB1', 'ttyACM0', 'ttyS0', 'cu.usbserial-1410', 'tty', 'cu.Bluetooth'])
      writeFileSync(join(folder, name), '');
    expect(portsInDev(folder)!.map(({ path }) => path.slice(folder.length + 1))).toEqual([
      'cu.usbserial-1410',
      'ttyACM0',
      'ttyUSB1',
    ]);
    expect(portsInDev(join(folder, 'no'))).toBeNull();
  });

  test('a converter that no driver has taken', () => {
    const usb = (name: string, ids: [string, string], tty: boolean) => {
      mkdirSync(join(folder, name));
      writeFileSync(join(folder, name, 'idVendor'), `${ids[0]}\n`);
      writeFileSync(join(folder, name, 'idProduct'), `${ids[1]}\n`);
      mkdirSync(join(folder, `${name}:1.0`, ...(tty ? ['ttyUSB0'] : [])), { recursive: true });
    };
    usb('1-1', ['1a86', '7523'], false);
    usb('1-2', ['0403', '6001'], true);
    usb('1-3', ['046d', 'c52b'], false);
    const told = withoutDriver(folder);
    expect(told).toHaveLength(1);
    expect(told[0]).toMatch(/CH340 .* no driver has taken it; run 'sudo modprobe ch341'/);
    expect(withoutDriver(join(folder, 'no'))).toEqual([]);
  });
});

describe('words for every trouble, on every system', () => {
  const said = (error: string, platform: NodeJS.Platform) => openError('PORT', new Error(error), platform, 'uucp');
  // What the serial port package throws (packages/bindings-cpp/src of node-serialport, from memory), and what the
  // kernels say.
  test.each([
    ['Error: No such file or directory, cannot open PORT', 'linux', 'absent', /is not there/],
    ['Opening PORT: File not found', 'win32', 'absent', /is not there/],
    [
      'Error: Permission denied, cannot open PORT',
      'linux',
      'forbidden',
      /sudo usermod -aG uucp \$USER', then log out and in again/,
    ],
    ['Error: Permission denied, cannot open PORT', 'darwin', 'forbidden', /lsof PORT/],
    ['Opening PORT: Access denied', 'win32', 'busy', /in use by another program; close the serial monitor/],
    ['Error Resource temporarily unavailable Cannot lock port', 'linux', 'busy', /fuser -v PORT/],
    ['Error: Resource busy, cannot open PORT', 'darwin', 'busy', /lsof PORT/],
    ['Error: Inappropriate ioctl for device, cannot open PORT', 'linux', 'no-port', /such as \/dev\/ttyUSB0/],
    ['Opening PORT: Unknown error code 31', 'win32', 'gone', /plug the board in again/],
    ['Error: Input/output error, cannot open PORT', 'linux', 'gone', /no device behind it/],
    ['something else', 'linux', 'other', /cannot be opened \(something else\)/],
  ] as const)('%s (%s)', (error, platform, kind, words) => {
    expect(said(error, platform).kind).toBe(kind);
    expect(said(error, platform).message).toMatch(words);
    expect(said(error, platform).message).not.toContain('\n');
  });

  test('text of somebody else is not called a wrong rate', () => {
    expect(noHelloError('P', 5, { bytes: 400, unprintable: 20, badLines: ['hello'] }, 500_000).kind).toBe('foreign');
  });
});

describe('boards that were met', () => {
  test('one entry a board, the newest place; damage and a board without a number change nothing', () => {
    const file = join(folder, 'deep', 'boards.json');
    expect(readKnownBoards(file)).toEqual([]);
    rememberBoard(file, { id: 7, path: 'a', seen_ms: 1 });
    rememberBoard(file, { id: 8, path: 'b', seen_ms: 2 });
    rememberBoard(file, { id: 7, path: 'c', seen_ms: 3 });
    rememberBoard(file, { id: 0, path: 'd', seen_ms: 4 });
    expect(readKnownBoards(file)).toEqual([
      { id: 8, path: 'b', seen_ms: 2 },
      { id: 7, path: 'c', seen_ms: 3 },
    ]);
    writeFileSync(file, readFileSync(file, 'utf8').slice(0, 20));
    expect(readKnownBoards(file)).toEqual([]);
    writeFileSync(join(folder, 'file'), '');
    rememberBoard(join(folder, 'file', 'x', 'boards.json'), { id: 7, path: 'a', seen_ms: 1 });
  });

  test('the file lies where each system keeps such', () => {
    expect(knownBoardsPath('linux', { XDG_CONFIG_HOME: '/c' })).toBe('/c/nightdraw/boards.json');
    expect(knownBoardsPath('darwin', {})).toMatch(/Library\/Application Support\/nightdraw\/boards\.json$/);
    expect(knownBoardsPath('win32', { APPDATA: '/r' })).toMatch(/r.nightdraw.boards\.json$/);
  });
});
