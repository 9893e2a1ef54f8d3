// Restraint and high-voltage circuits by name, and what that does to the fuses around them.
import { describe, expect, test } from 'vitest';
import { careOf, unknownParts } from '../../../host/bay/tree/care.ts';
import { restrictedName } from '../../../host/bay/tree/restricted.ts';
import { readTree } from '../../../host/bay/tree/tree-build.ts';
import { findNode } from '../../../host/bay/tree/tree.ts';
import { HARMLESS_NAMES, RESTRICTED_NAMES, spellings } from './restricted-names.ts';

const HEAD = 'box,position,rating,type,feeds,leave alone\n';

describe('names', () => {
  test('sixty names of such circuits, ten spellings each, are known', () => {
    expect([
      new Set(RESTRICTED_NAMES).size,
      ...new Set(RESTRICTED_NAMES.map((name) => new Set(spellings(name)).size)),
    ]).toEqual([60, 10]);
    expect(RESTRICTED_NAMES.flatMap(spellings).filter((name) => !restrictedName(name))).toEqual([]);
  });

  test('sixty harmless names are not taken for them, however they are written', () => {
    expect(new Set(HARMLESS_NAMES).size).toBe(60);
    const written = HARMLESS_NAMES.flatMap((name) => [
      name,
      name.toUpperCase(),
      name.replaceAll(' ', '-'),
      `${name} 2`,
      `${name}, rear`,
    ]);
    expect(written.filter(restrictedName)).toEqual([]);
  });

  test.each([
    'S.R.S.',
    'D.C./D.C.',
    'H/V A/C compressor',
    'H.V. A/C',
    'AirBag',
    'HvBattery',
    'A-BAG',
    'DC to DC',
    'DC2DC',
    'sidecurtainairbags',
    "driver's airbag",
    'air\u00adbag',
    'charger',
    'battery charger',
    'A.C. charger socket',
    'pre-tentioner',
    'invertor',
    '400V battery',
    '115 V AC outlet',
    'e-motor',
    'PTC heater',
    'Seitenairbag',
    'Gurtstraffer',
    'R\u00fcckhaltesystem',
    'Hochvolt-Heizung',
    'batterie de traction',
    'bolsa de aire',
    'alta tensione',
    'hoogspanning',
  ])('%s is such a circuit', (name) => {
    expect(restrictedName(name)).toBe(true);
  });

  test.each([
    'contr\u00f4le de traction',
    'Traktionskontrolle',
    'D.C. motor',
    '24 V socket',
    'unit a1000',
    'F12',
    '',
    '?',
  ])('%j is none', (name) => {
    expect(restrictedName(name)).toBe(false);
  });
});

describe('the fuses around them', () => {
  const tree = readTree(
    `${HEAD}a,L1,60,bolted,"F1, F2, F3",\na,F1,10,regular,"SRS, clock",\na,F2,20,regular,"K1, blower",\na,K1,,relay,"HV heater, lamp",\na,F3,30,regular,"F4, F5",\na,F4,10,regular,radio,\na,F5,10,regular,tracker,yes\nhigh-voltage box,F6,10,regular,pump,\na,F7,10,regular,,\na,F8,10,regular,"horn, spare",no`,
  ).tree!;
  const care = (name: string) => careOf(tree, findNode(tree, name)!.id);

  test('one fuse is one circuit, relays included; what feeds it stays in too; another fuse of the same feed is free', () => {
    expect(
      Object.fromEntries(
        ['L1', 'F1', 'SRS', 'clock', 'F2', 'K1', 'lamp', 'blower', 'F6', 'pump'].map((name) => [name, care(name)]),
      ),
    ).toEqual({
      L1: 'measure only',
      F1: 'measure only',
      SRS: 'measure only',
      clock: 'measure only',
      F2: 'measure only',
      K1: 'measure only',
      lamp: 'measure only',
      blower: 'measure only',
      F6: 'measure only',
      pump: 'measure only',
    });
    expect([care('F4'), care('radio')]).toEqual(['free', 'free']);
  });

  test('a fuse that the list marks is left alone with all behind it, and its feeder is only measured', () => {
    expect([care('F5'), care('tracker'), care('F3')]).toEqual(['leave alone', 'leave alone', 'measure only']);
    expect(readTree(`${HEAD}a,F1,10,regular,radio,perhaps`).complaints).toEqual([
      { line: 2, text: "'perhaps' in the column 'leave alone' is not understood; write yes, or leave it empty" },
    ]);
  });

  test('what the list does not name is unknown', () => {
    const unknown = (kind: 'drop' | 'pull' | 'unplug', name: string) =>
      unknownParts(tree, kind, findNode(tree, name)!.id).map((id) => tree.nodes[id]!.name);
    expect([unknown('pull', 'F7'), unknown('drop', 'F8'), unknown('unplug', 'horn'), unknown('pull', 'F4')]).toEqual([
      ['what F7 feeds'],
      ['spare'],
      [],
      [],
    ]);
  });
});
