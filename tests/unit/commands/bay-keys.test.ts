// The keys of the bay in a terminal: what each does, and what is said where it does nothing.
import { describe, expect, test } from 'vitest';
import { BayKeys, KEY_HELP, keysOf } from '../../../host/commands/bay-keys.ts';
import { BayScreen } from '../../../host/commands/bay-screen.ts';
import type { Output } from '../../../host/commands/record-screen.ts';
import type { KeyResult } from '../../../host/commands/bay-keys.ts';
import type { BayAnswer, BayView } from '../../../host/contract/api-bay.ts';

/** @returns what the last of the keys came to */
function typed(keys: string, answers: readonly BayAnswer[] = ['tap']): KeyResult {
  const hands = new BayKeys();
  return [...keys].map((key) => hands.press(key, answers, 'off')).at(-1)!;
}

describe('keys', () => {
  test.each([
    ['\r', ['tap'], { do: 'tap' }],
    [' ', ['tap'], { do: 'tap' }],
    ['y', ['yes', 'no'], { do: 'yes' }],
    ['N', ['yes', 'no'], { do: 'no' }],
    ['s', ['tap', 'skip'], { do: 'skip' }],
    ['b', ['tap'], { do: 'bridge', on: true }],
    ['0,4\r', ['drop'], { do: 'drop', drop_mV: 0.4 }],
    ['-0.4\r', ['drop'], { do: 'drop', drop_mV: -0.4 }],
    ['mF3 0,4 mV\r', ['tap'], { do: 'drop', name: 'F3', drop_mV: 0.4 }],
    ['ounplugged mirror left\r', ['tap'], { do: 'did', what: 'unplugged', name: 'mirror left' }],
    [
      'eradio, fault code, U0140, the customer\r',
      ['tap'],
      { do: 'evidence', name: 'radio', kind: 'fault code', text: 'U0140', source: 'the customer' },
    ],
    [
      'eradio, other, odd noise\r',
      ['tap'],
      { do: 'evidence', name: 'radio', kind: 'other', text: 'odd noise', source: 'noted at the car' },
    ],
    ['a\r', ['tap'], { do: 'alone', alone: true }],
    ['aF3\r', ['tap'], { do: 'alone', name: 'F3', alone: true }],
    ['anot F3\r', ['tap'], { do: 'alone', name: 'F3', alone: false }],
    ['p47\r', ['tap'], { do: 'proof', resistor_Ohm: 47 }],
  ] as const)('%j', (keys, answers, action) => {
    expect(typed(keys, answers)).toEqual({ kind: 'act', action });
  });

  test.each([
    ['y', ['tap'], /nothing is asked with yes or no now/],
    ['s', ['wrong'], /nothing to skip now/],
    ['7', ['tap'], /no voltage is asked for now; m is for the one that you read/],
    ['x', ['tap'], /x is no key here; \? shows them/],
    ['\r', ['drop', 'skip'], /type the voltage in mV, then Enter/],
    ['\r', ['yes', 'no'], /y for yes, n for no/],
    ['\r', ['wrong'], /wait; it is being measured/],
    ['0.4a\r', ['drop'], /'0\.4a' is not a voltage in mV/],
    ['mF3\r', ['tap'], /write the fuse and the mV: F3 0\.4/],
    ['opull F3\r', ['tap'], /write pulled F3, unplugged radio or back F3/],
    ['eradio, hearsay\r', ['tap'], /kinds: fault code, switch state/],
    ['p0\r', ['tap'], /'0' is not a resistance in ohm/],
  ] as const)('%j is answered', (keys, answers, words) => {
    const result = typed(keys, answers);
    expect(result.kind).toBe('say');
    expect(result.kind === 'say' && result.text).toMatch(words);
  });

  test('arrow and function keys are passed over, and Escape drops what was begun', () => {
    expect(keysOf('\u001b[Ay\u001bOP\u001b[15~é\u001b')).toEqual(['y', 'é', '\u001b']);
    expect(typed('mF3\u001b\r')).toEqual({ kind: 'act', action: { do: 'tap' } });
  });

  test('what does not fit beside the draw stands above it, once; of what is typed, the end is seen', () => {
    const lines: string[] = [];
    const screen = new BayScreen({ isTTY: true, columns: 50, write: (part: string) => lines.push(part) });
    const sight = (text: string) => ({ wait: null, bridge: 'off', out: [], sight: text }) as unknown as BayView;
    screen.status(sight('Seen: 12.60 V.'), 350, null);
    expect(lines).toEqual(['\r\u001b[K350 mA  Seen: 12.60 V.']);
    for (const now_mA of [350, 351])
      screen.status(sight(`Not yet: ${now_mA} mA, the reading did not rise: the bridge is still on.`), now_mA, null);
    expect(lines.slice(1).join('')).toBe(
      '\r\u001b[K    Not yet: 350 mA, the reading did not rise: the\r\n    bridge is still on.\r\n\r\u001b[K350 mA\r\u001b[K351 mA',
    );
    screen.status(sight(''), 350, `part, kind, what, who: ${'x'.repeat(60)}end`);
    expect(lines.at(-1)).toBe(`\r\u001b[K${'x'.repeat(46)}end`);
  });

  test('help names every key, within the width of the terminal', () => {
    let text = '';
    const output: Output = { isTTY: true, columns: 46, write: (part: string) => ((text += part), true) };
    new BayScreen(output).help(KEY_HELP);
    for (const [key] of KEY_HELP) expect(text).toContain(key);
    expect(Math.max(...text.split('\r\n').map((line) => line.length))).toBeLessThanOrEqual(46);
  });
});
