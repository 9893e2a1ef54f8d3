// The second way, with ready-made modules: sound, fits the firmware, drawn as it is; and what either
// way is off by.
import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { checkAll } from '../../../firmware/circuit/checks.ts';
import { ERRORS, remaining } from '../../../firmware/circuit/errors.ts';
import { checkFirmware, firmwareNeeds } from '../../../firmware/circuit/firmware-pins.ts';
import { drawnWrong } from '../../../firmware/circuit/modules-drawing.ts';
import { ROUTES } from '../../../firmware/circuit/modules-layout.ts';
import { MODULES_CIRCUIT } from '../../../firmware/circuit/modules.ts';

const file = (name: string) => readFileSync(new URL(`../../../firmware/${name}`, import.meta.url), 'utf8');

test('pins, outputs, ratings, fuses and isolation are sound', () => {
  expect(checkAll(MODULES_CIRCUIT)).toEqual([]);
});

describe('against the firmware', () => {
  const needs = firmwareNeeds({
    chip: file('boards/atmega328p/chip.h'),
    board: file('boards/atmega/board.c'),
    sense: file('core/sense.h'),
    makefile: file('Makefile'),
  });
  const modules = { sense: 'M1', processor: 'M2', serial: 'M2' };

  test('it fits', () => {
    expect(checkFirmware(MODULES_CIRCUIT, needs, modules)).toEqual([]);
  });

  test('SDA and SCL swapped are found', () => {
    const parts = MODULES_CIRCUIT.parts.map((part) =>
      part.ref === 'M2' ? { ...part, on: { ...part.on, '3': 'SCL', '4': 'SDA' } } : part,
    );
    expect(checkFirmware({ ...MODULES_CIRCUIT, parts }, needs, modules)).toEqual([
      'M2.PC4 is not on the net of M1.SDA',
      'M2.PC5 is not on the net of M1.SCL',
    ]);
  });
});

describe('drawing 3', () => {
  test('joins what the circuit joins, and nothing else', () => {
    expect(drawnWrong(MODULES_CIRCUIT)).toEqual([]);
  });

  test('a line left out, or led to another pin, is found', () => {
    expect(
      drawnWrong(
        MODULES_CIRCUIT,
        undefined,
        ROUTES.filter((route) => route.net !== 'SCL'),
      ),
    ).toContain('M1.3 has no line to SCL');
    const crossed = ROUTES.map((route) => (route.net === 'SDA' ? { ...route, net: 'SCL' } : route));
    expect(drawnWrong(MODULES_CIRCUIT, undefined, crossed)).toContain('M1.4 is on SDA, and drawn on SCL');
  });
});

describe('the error budget', () => {
  test('the sums are those of the terms that stay, and the second way is the worse', () => {
    const staying = ERRORS.filter((term) => term.stays).map((term) => term.board_mA);
    expect(remaining('board_mA').worst_mA).toBeCloseTo(
      staying.reduce((a, b) => a + b),
      12,
    );
    expect(remaining('board_mA').likely_mA).toBeCloseTo(Math.hypot(...staying), 12);
    expect(remaining('modules_mA').likely_mA).toBeGreaterThan(remaining('board_mA').likely_mA);
  });

  test('a microvolt is 0.2 mA in 5 mΩ', () => {
    expect(ERRORS.find((term) => term.cause === 'offset of the chip')!.board_mA).toBeCloseTo(0.2, 12);
  });

  test('every term has a source', () => {
    expect(ERRORS.filter((term) => term.source === '')).toEqual([]);
  });
});
