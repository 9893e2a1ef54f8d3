// Keys at the car: one key is one action, since hands are greasy and a foot switch types
// a single key. Numbers and names are typed into a line that Enter ends.

import { EVIDENCE_KINDS } from '../bay/search/evidence.ts';
import type { EvidenceKind } from '../contract/api-bay.ts';
import type { BayAction } from '../contract/api-bay.ts';
import type { BayAnswer } from '../contract/api-bay.ts';

export type KeyResult =
  | { kind: 'act'; action: BayAction }
  | { kind: 'help' | 'quit' | 'places' | 'nothing' | 'typing' }
  | { kind: 'say'; text: string };

interface Line {
  prompt: string;
  text: string;
  done: (text: string) => KeyResult;
  /** Enter with nothing typed. */
  empty: () => KeyResult;
}

/** A key, and what it does. */
export const KEY_HELP: readonly [string, string][] = [
  ['Enter or space', 'done (a foot switch that types one of them will do)'],
  ['y / n', 'yes, no'],
  ['digits', 'the voltage that was asked for, in mV; Enter ends it'],
  ['s', 'cannot be done here: propose something else'],
  ['w', 'the last thing was wrong: take it back'],
  ['b', 'bridge is on now; once more: it is off'],
  ['o', 'something else was done: pulled F3, unplugged radio, back F3'],
  ['m', 'voltage across another fuse: F3 0.4'],
  ['e', 'evidence: radio, fault code, U0140 stored, who says so'],
  ['a', 'leave alone: F3 (nothing: what is proposed now); not F3 takes it back'],
  ['p', 'proof load: its resistance in ohm'],
  ['r', 'prepared already: skip the rest of the list'],
  ['l', 'where the draw may be'],
  ['g', 'give up: end the search, undecided'],
  ['q', 'stop; go on later with the same --out'],
];

const say = (text: string): KeyResult => ({ kind: 'say', text });
const act = (action: BayAction): KeyResult => ({ kind: 'act', action });
const number = (text: string) => (text.trim() === '' ? NaN : Number(text.trim().replace(',', '.')));

const SEQUENCE = /\u001b(?:\[[\d;]*[A-Za-z~]|O[A-Za-z])/g;

/** The keys in what a terminal sent. Arrows and others that send several letters are passed over. */
export const keysOf = (sent: string): string[] => [...sent.replace(SEQUENCE, '')];

export class BayKeys {
  private line: Line | null = null;

  /** What is being typed, to be shown; null where nothing is. */
  get typed(): string | null {
    return this.line === null ? null : `${this.line.prompt}${this.line.text}`;
  }

  /** @param answers what may be answered now, the first is what Enter does */
  // oxlint-disable-next-line max-lines-per-function -- one table of keys
  press(key: string, answers: readonly BayAnswer[], bridge: 'on' | 'off'): KeyResult {
    if (key === '\u0003' || key === '\u0004') return { kind: 'quit' };
    if (this.line !== null) return this.type(key, this.line);
    if (answers[0] === 'drop' && /^[\d.,-]$/.test(key))
      return this.open('mV: ', key, (text) =>
        Number.isFinite(number(text))
          ? act({ do: 'drop', drop_mV: number(text) })
          : say(`'${text}' is not a voltage in mV`),
      );
    switch (key.toLowerCase()) {
      case '\r':
      case '\n':
      case ' ':
        return answers.includes('tap') || answers.length === 0
          ? act({ do: 'tap' })
          : say(
              answers[0] === 'drop'
                ? 'type the voltage in mV, then Enter'
                : answers[0] === 'yes'
                  ? 'y for yes, n for no'
                  : 'wait; it is being measured',
            );
      case 'y':
      case 'n':
        return answers.includes('yes')
          ? act({ do: key.toLowerCase() === 'y' ? 'yes' : 'no' })
          : say('nothing is asked with yes or no now');
      case 's':
        return answers.includes('skip') ? act({ do: 'skip' }) : say('there is nothing to skip now');
      case 'w':
        return act({ do: 'wrong' });
      case 'r':
        return act({ do: 'ready' });
      case 'g':
        return act({ do: 'give-up' });
      case 'b':
        return act({ do: 'bridge', on: bridge === 'off' });
      case 'o':
        return this.open('done (pulled F3): ', '', otherOf);
      case 'm':
        return this.open('fuse and mV (F3 0.4): ', '', dropOf);
      case 'e':
        return this.open('part, kind, what, who: ', '', evidenceOf);
      case 'a':
        return this.open('leave alone (F3): ', '', aloneOf, () => act({ do: 'alone', alone: true }));
      case 'p':
        return this.open('proof load, ohm: ', '', (text) =>
          number(text) > 0
            ? act({ do: 'proof', resistor_Ohm: number(text) })
            : say(`'${text}' is not a resistance in ohm`),
        );
      case 'l':
        return { kind: 'places' };
      case 'q':
        return { kind: 'quit' };
      case '?':
      case 'h':
        return { kind: 'help' };
      default:
        return this.unknown(key);
    }
  }

  private unknown(key: string): KeyResult {
    if (/^\d$/.test(key)) return say('no voltage is asked for now; m is for the one that you read');
    return /^[\p{L}\p{P}]$/u.test(key) ? say(`${key} is no key here; ? shows them`) : { kind: 'nothing' };
  }

  private open(
    prompt: string,
    text: string,
    done: Line['done'],
    empty: Line['empty'] = () => ({ kind: 'nothing' }),
  ): KeyResult {
    this.line = { prompt, text, done, empty };
    return { kind: 'typing' };
  }

  private type(key: string, line: Line): KeyResult {
    if (key === '\r' || key === '\n') {
      this.line = null;
      return line.text.trim() === '' ? line.empty() : line.done(line.text.trim());
    }
    if (key === '\u001b') {
      this.line = null;
      return { kind: 'nothing' };
    }
    if (key === '\u007f' || key === '\b') line.text = line.text.slice(0, -1);
    else if (key >= ' ' && line.text.length < 200) line.text += key;
    return { kind: 'typing' };
  }
}

function otherOf(text: string): KeyResult {
  const match = /^(pulled|unplugged|back|in|refitted)\s+(.+)$/i.exec(text);
  if (match === null) return say(`'${text}' is not understood; write pulled F3, unplugged radio or back F3`);
  const word = match[1]!.toLowerCase();
  return act({ do: 'did', what: word === 'pulled' || word === 'unplugged' ? word : 'refitted', name: match[2]! });
}

function aloneOf(text: string): KeyResult {
  const [, not, name] = /^(not\s+)?(.+)$/i.exec(text)!;
  return act({ do: 'alone', name: name!, alone: not === undefined });
}

function dropOf(text: string): KeyResult {
  const match = /^(.+?)\s+(-?[\d.,]+)(?:\s*mV)?$/i.exec(text);
  return match !== null && Number.isFinite(number(match[2]!))
    ? act({ do: 'drop', name: match[1]!, drop_mV: number(match[2]!) })
    : say(`'${text}' is not understood; write the fuse and the mV: F3 0.4`);
}

function evidenceOf(text: string): KeyResult {
  const [name, kind, seen, ...who] = text.split(',').map((part) => part.trim());
  const known = Object.keys(EVIDENCE_KINDS).find((one) => one === kind?.toLowerCase()) as EvidenceKind | undefined;
  if (name === undefined || known === undefined)
    return say(
      `'${text}' is not understood; write part, kind, what was seen, who says so; kinds: ${Object.keys(EVIDENCE_KINDS).join(', ')}`,
    );
  return act({
    do: 'evidence',
    name,
    kind: known,
    text: (seen ?? '').slice(0, 200),
    source: who.length === 0 ? 'noted at the car' : who.join(', ').slice(0, 200),
  });
}
