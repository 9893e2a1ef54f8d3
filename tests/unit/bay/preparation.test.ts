// Preparing and connecting, and the proof load: what the program may say from the
// readings, and where it must say that it cannot tell.
import { describe, expect, test } from 'vitest';
import type { Level } from '../../../host/bay/search/level.ts';
import { PREPARATION, sightOf } from '../../../host/bay/work/preparation.ts';
import type { PreparationReadings } from '../../../host/bay/work/preparation.ts';
import { checkProof, proofCautions } from '../../../host/bay/work/proof-load.ts';

const level = (mean_mA: number): Level => ({ mean_mA, sigma_mA: 1, still: true, length_s: 20 });
const none: PreparationReadings = { battery_V: null, bridged: null, bridgeOff: null, now: null, held_s: 0 };

describe('preparing', () => {
  test('the bridge goes on before the board goes in, and off after it', () => {
    const ids = PREPARATION.map((item) => item.id);
    expect(ids.indexOf('bridge-on')).toBeLessThan(ids.indexOf('board-in'));
    expect(ids.indexOf('board-in')).toBeLessThan(ids.indexOf('bridge-off'));
  });

  test('without a reading nothing is claimed', () => {
    for (const { id } of PREPARATION) expect(sightOf(id, none).seen).not.toBe('yes');
  });

  test('what only the technician can see stays so, whatever is read', () => {
    const full = { battery_V: 12.6, bridged: level(80), bridgeOff: level(350), now: level(40), held_s: 900 };
    for (const id of ['bonnet', 'latches', 'doors', 'key', 'charger', 'bridge-on'] as const)
      expect(sightOf(id, full).seen, id).toBe('cannot tell');
  });

  // Flooded and rested, 12.4 V is 75 % (autobatteries.com "voltage" basics).
  test.each([
    [12.5, 'yes'],
    [12.2, 'no'],
  ] as const)('a battery of %f V: %s', (battery_V, seen) => {
    expect(sightOf('battery', { ...none, battery_V }).seen).toBe(seen);
  });

  test.each([
    ['the rise when the bridge comes off', level(80), level(350), 'yes', /rose from 80 mA to 350 mA/],
    ['clamps swapped', level(-80), level(-350), 'no', /swapped/],
    ['no rise', level(340), level(350), 'no', /did not rise/],
    ['nothing flows', level(0), level(1), 'cannot tell', /next to nothing/],
    ['no reading with the bridge on', null, level(350), 'cannot tell', /no reading with the bridge on/],
  ] as const)('bridge off: %s', (_, bridged, bridgeOff, seen, text) => {
    const sight = sightOf('bridge-off', { ...none, bridged, bridgeOff });
    expect(sight.seen).toBe(seen);
    expect(sight.text).toMatch(text);
  });

  test('a fresh staircase tells that the circuit was open', () => {
    expect(sightOf('circuit-whole', { ...none, bridgeOff: level(500), now: level(45) })).toMatchObject({ seen: 'no' });
    expect(sightOf('circuit-whole', { ...none, bridgeOff: level(500), now: level(480) })).toMatchObject({
      seen: 'cannot tell',
    });
    expect(sightOf('circuit-whole', { ...none, bridgeOff: level(48), now: level(45) })).toMatchObject({ seen: 'yes' });
  });

  test('a bridge that is still on is told before anything else', () => {
    const sight = sightOf('circuit-whole', { ...none, bridged: level(20), bridgeOff: level(20), now: level(20) });
    expect(sight.seen).toBe('no');
    expect(sight.text).toMatch(/bridge is still on/);
  });

  test('asleep: held long enough, and a large draw is not called sleep', () => {
    expect(sightOf('asleep', { ...none, now: level(40), held_s: 60 }).seen).toBe('no');
    expect(sightOf('asleep', { ...none, now: level(40), held_s: 700 }).seen).toBe('yes');
    expect(sightOf('asleep', { ...none, now: level(350), held_s: 700 }).seen).toBe('cannot tell');
  });
});

describe('the proof load', () => {
  const base = {
    before: { mean_mA: 40, sigma_mA: 0.5 },
    battery_V: 12.6,
    resistor_Ohm: 100,
    tolerance_percent: 1,
  };
  const proof = ({ with_mA, ...more }: Partial<typeof base> & { with_mA: number }) =>
    checkProof({ ...base, ...more, loaded: { mean_mA: with_mA, sigma_mA: 0.5 } });
  // Ohm's law: 12.6 V / 100 Ohm = 126 mA.
  test.each([
    ['true', 40 + 126, 'true'],
    ['half of it goes past', 40 + 63, 'bypassed'],
    ['8 % too much', 40 + 136.1, 'out of calibration'],
    ['the other way', 40 - 126, 'swapped'],
    ['no contact', 40.5, 'not connected'],
  ] as const)('%s', (_, with_mA, code) => {
    const result = proof({ with_mA });
    expect(result.code).toBe(code);
    expect(result.expected_mA).toBeCloseTo(126, 6);
  });

  test('a resistor that drowns in the flicker tells nothing', () => {
    expect(proof({ resistor_Ohm: 1000, with_mA: 52.6 }).code).toBe('cannot tell');
  });

  test('what cannot be is refused in words', () => {
    expect(() => proof({ resistor_Ohm: 0, with_mA: 1 })).toThrow(/cannot be used; take a resistor of/);
    expect(() => proof({ battery_V: 48, with_mA: 1 })).toThrow(/not a 12 V battery/);
  });

  // P = U^2 / R: 12^2 / 10 = 14.4 W; 12^2 / 1000 = 0.144 W.
  test('a hot resistor gets its caution', () => {
    expect(proofCautions(12, 10)[1]).toMatch(/14\.4 W/);
    expect(proofCautions(12, 1000)).toEqual([
      expect.stringMatching(
        /^Fused lead; .*last contact at the chassis away from the battery; for seconds only\. .* do not touch it\.$/,
      ),
    ]);
  });
});
