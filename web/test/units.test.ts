// SPDX-License-Identifier: Apache-2.0
import { describe, expect, it } from 'vitest';
import { litres, shownAs, stepsInPageUnits, temperature, toCelsius, toLitres } from '../src/units';
import { readSettings } from '../src/settings';
import { routeOf } from '../src/route';
import { kLimitBytes, sortOut } from '../src/words/brought';
import { wishOf, isNothing } from '../src/parts/WhatIf';

describe('units', () => {
  // Ratios of molar masses from the IUPAC abridged standard atomic weights 2021, worked by hand: N 14.007, H 1.008, O 15.999.
  it('turns the ion into its nitrogen', () => {
    expect(shownAs('ammonia', 'N').factor).toBeCloseTo(14.007 / 17.031, 6);
    expect(shownAs('nitrite', 'N').factor).toBeCloseTo(0.30447, 5);
    expect(shownAs('nitrate', 'N').factor).toBeCloseTo(0.22590, 5);
  });
  // 1 dKH = 17.85 mg/L CaCO3 and 1 meq/L = 50.04 mg/L CaCO3 (usual tables of water hardness).
  it('shows alkalinity as the chart counts', () => {
    const kit = (basis: string) => ({ test: 'alkalinity', basis, steps: [] });
    expect(1 / shownAs('alkalinity', 'kit', kit('dKH')).factor).toBeCloseTo(17.85, 2);
    expect(1 / shownAs('alkalinity', 'kit', kit('meq')).factor).toBeCloseTo(50.04, 2);
    expect(shownAs('alkalinity', 'ion', kit('dKH')).factor).toBe(1);
  });
  it('brings steps without page values there by the kit’s basis', () =>
    expect(stepsInPageUnits({ test: 'nitrite', basis: 'N', steps: [1] }, 'nitrite')[0]).toBeCloseTo(3.2845, 3));
  // 1 US gallon is 3.785411784 L, 24 degC is 75.2 degF: definitions.
  it('knows gallons and Fahrenheit, there and back', () => {
    expect(litres(3.785411784, 'us').value).toBeCloseTo(1, 12);
    expect(toLitres(264.172052, 'us')).toBeCloseTo(1000, 4);
    expect(temperature(24, 'us').value).toBeCloseTo(75.2, 10);
    expect(toCelsius(75.2, 'us')).toBeCloseTo(24, 10);
  });
});

describe('settings', () => {
  it('keeps what is known and drops the rest', () => {
    expect(readSettings('{"basis":"N","theme":"pink"}')).toEqual({ basis: 'N', theme: 'system', measures: 'metric' });
    expect(readSettings('not json')).toEqual({ basis: 'kit', theme: 'system', measures: 'metric' });
  });
});

describe('paths', () => {
  it('name a screen', () => {
    expect(routeOf('/')).toEqual({ screen: 'board' });
    expect(routeOf('/loops/north-bench')).toEqual({ screen: 'loop', id: 'north-bench' });
    expect(routeOf('/loops/North%2F..')).toEqual({ screen: 'unknown' });
    expect(routeOf('/bring/')).toEqual({ screen: 'bring' });
  });
});

describe('what was brought', () => {
  const file = (name: string, size = 10) => ({ name, file: { size } as File });
  it('sorts a folder, a zip and a sheet', () => {
    expect(sortOut([file('bench/loop.toml'), file('bench/log.csv'), file('bench/notes.txt')], {})).toMatchObject({ name: 'bench', wide: false });
    expect(sortOut([file('bench.zip')], {})).toMatchObject({ name: 'bench', wide: false });
    expect(sortOut([file('days.csv')], { basis: 'N' })).toMatchObject({ name: 'days', wide: true, brought: { fields: { basis: 'N' } } });
  });
  it('says what is missing', () => {
    expect(sortOut([file('loop.toml')], {})).toMatchObject({ problem: expect.stringContaining('log.csv') });
    expect(sortOut([file('photo.jpg')], {})).toMatchObject({ problem: expect.stringContaining('row a day') });
    expect(sortOut([file('big.zip', kLimitBytes + 1)], {})).toMatchObject({ problem: expect.stringContaining('8 MB') });
  });
});

describe('what if', () => {
  it('asks for nothing that was not moved', () => {
    expect(wishOf({ dose: 0, buffer: 40, celsius: null, wait: 3 })).toEqual({ dose_ammonia_mg_l: null, dose_in_days: 3, buffer_mg_l_caco3: 40, buffer_in_days: 3,
      temperature_c: null, wait_days: 3, plan: true });
    expect(isNothing({ dose: 0, buffer: 0, celsius: null, wait: 0 })).toBe(true);
    expect(isNothing({ dose: 0, buffer: 0, celsius: null, wait: 5 })).toBe(false);
  });
});
