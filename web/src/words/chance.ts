// SPDX-License-Identifier: Apache-2.0
// Chances in words. A word never stands without its number. The borders are a convention of this page, like those of weather
// and climate reports; the numbers said are rounded to what people can picture.
import { t, type TextKey } from '../locale/text';

const kWords: readonly [number, TextKey][] = [
  [0.97, 'chance.almost_certain'], [0.9, 'chance.very_likely'], [0.7, 'chance.likely'],
  [0.55, 'chance.more_likely'], [0.45, 'chance.as_likely'], [0.3, 'chance.less_likely'],
  [0.1, 'chance.unlikely'], [0.03, 'chance.very_unlikely'], [0, 'chance.almost_ruled_out'],
];
const kNumbers: readonly [number, TextKey][] = [
  [0.97, 'chance.49_in_50'], [0.93, 'chance.19_in_20'], [0.9, 'chance.9_in_10'], [0.78, 'chance.8_in_10'], [0.7, 'chance.3_in_4'],
  [0.55, 'chance.6_in_10'], [0.45, 'chance.1_in_2'], [0.3, 'chance.4_in_10'], [0.1, 'chance.1_in_4'], [0.03, 'chance.1_in_20'],
  [0, 'chance.1_in_50'],
];

const at = (table: readonly [number, TextKey][], p: number) => t((table.find(([from]) => p >= from) ?? table.at(-1)!)[1]);

export interface Chance { word: string; number: string }
export const chance = (p: number): Chance => ({ word: at(kWords, p), number: at(kNumbers, p) });
export const capital = (text: string) => text.charAt(0).toUpperCase() + text.slice(1);
