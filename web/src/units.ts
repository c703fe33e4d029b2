// SPDX-License-Identifier: Apache-2.0
// From page units (see contract.ts) to the units the reader chose. Atomic weights: IUPAC abridged 2021 (H 1.008, N 14.007,
// O 15.999, Ca 40.078, C 12.011). 1 dKH is 10 mg CaO per litre; 1 meq/L alkalinity is half a mmol CaCO3.
import type { Kit, Test } from './contract';

export type NitrogenBasis = 'kit' | 'ion' | 'N';
export type Measures = 'metric' | 'us';

const kH = 1.008, kN = 14.007, kO = 15.999;
const kNh3 = kN + 3 * kH, kNh4 = kN + 4 * kH, kNo2 = kN + 2 * kO, kNo3 = kN + 3 * kO;
const kCaCo3 = 40.078 + 12.011 + 3 * kO, kCaO = 40.078 + kO;

const kPageMolarMass: Record<'ammonia' | 'nitrite' | 'nitrate', number> = { ammonia: kNh3, nitrite: kNo2, nitrate: kNo3 };
const kMolarMass: Record<string, number> = { N: kN, NH3: kNh3, NH4: kNh4, NO2: kNo2, NO3: kNo3 };
const kWritten: Record<string, string> = { N: 'N', NH3: 'NH₃', NH4: 'NH₄⁺', NO2: 'NO₂⁻', NO3: 'NO₃⁻' };
const kIon: Record<'ammonia' | 'nitrite' | 'nitrate', string> = { ammonia: 'NH3', nitrite: 'NO2', nitrate: 'NO3' };

export interface Shown { factor: number; unit: string; short: string }  // shown = page value * factor

// `kit`: as the owner's own chart counts, so that the axis carries the chart's own numbers.
export function shownAs(test: Test, choice: NitrogenBasis, kit?: Kit | null): Shown {
  if (test === 'ph') return { factor: 1, unit: '', short: '' };
  if (test === 'alkalinity') {
    if (choice === 'kit' && kit?.basis === 'dKH') return { factor: kCaO / 10 / kCaCo3, unit: 'dKH', short: 'dKH' };
    if (choice === 'kit' && kit?.basis === 'meq') return { factor: 2 / kCaCo3, unit: 'meq/L', short: 'meq/L' };
    return { factor: 1, unit: 'mg/L as CaCO₃', short: 'mg/L' };
  }
  let basis = choice === 'N' ? 'N' : kIon[test];
  if (choice === 'kit' && kit?.basis && kMolarMass[kit.basis]) basis = kit.basis;
  return { factor: kMolarMass[basis]! / kPageMolarMass[test], unit: `mg/L as ${kWritten[basis]}`, short: 'mg/L' };
}

export const kitOf = (kits: Kit[], test: Test): Kit | null => kits.filter((kit) => kit.test === test).at(-1) ?? null;

// Steps of a kit in page units; from the server where it says them, else by the kit's own basis.
export function stepsInPageUnits(kit: Kit | null, test: Test): number[] {
  if (!kit) return [];
  if (kit.steps_page?.length) return kit.steps_page;
  const factor = shownAs(test, 'kit', kit).factor;
  return kit.steps.map((step) => step / factor);
}

const kLitresPerUsGallon = 3.785411784;  // exact, by definition
export const litres = (value: number, measures: Measures) =>
  measures === 'us' ? { value: value / kLitresPerUsGallon, unit: 'gal (US)' } : { value, unit: 'L' };
export const toLitres = (value: number, measures: Measures) => (measures === 'us' ? value * kLitresPerUsGallon : value);
export const temperature = (celsius: number, measures: Measures) =>
  measures === 'us' ? { value: celsius * 1.8 + 32, unit: '°F' } : { value: celsius, unit: '°C' };
export const toCelsius = (value: number, measures: Measures) => (measures === 'us' ? (value - 32) / 1.8 : value);
