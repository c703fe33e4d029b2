// SPDX-License-Identifier: Apache-2.0
import { describe, expect, it } from 'vitest';
import { chance } from '../src/words/chance';
import { civil, dayNumber, nextDay, range, soon, startOfDay } from '../src/words/dates';
import { amount, formulas, grams } from '../src/words/numbers';
import { letter, lettered } from '../src/words/doubts';
import en from '../src/locale/en.json';
import type { Entry } from '../src/contract';

// The borders are this page's own convention, written down in its plan of words; no outside source.
describe('chances in words', () => {
  it.each([
    [1, 'almost certain', '49 in 50'], [0.97, 'almost certain', '49 in 50'], [0.9699, 'very likely', '19 in 20'], [0.9, 'very likely', '9 in 10'],
    [0.8999, 'likely', '8 in 10'], [0.7, 'likely', '3 in 4'], [0.69, 'more likely than not', '6 in 10'], [0.5, 'as likely as not', '1 in 2'],
    [0.44, 'less likely than not', '4 in 10'], [0.29, 'unlikely', '1 in 4'], [0.09, 'very unlikely', '1 in 20'], [0, 'almost ruled out', '1 in 50'],
  ])('%f is %s', (p, word, number) => expect(chance(p)).toEqual({ word, number }));

  it('never says certain or safe', () => {
    for (const [key, text] of Object.entries(en)) {
      expect(text.replace(/almost certain/g, ''), key).not.toMatch(/\b(certain|guaranteed|100 ?%|normal)\b/i);
      expect(text, key).not.toMatch(/!/);
    }
  });
});

describe('dates', () => {
  const at = (text: string) => Date.parse(text);
  // 27 November 2026 is a Friday (calendar).
  it('names the weekday within ten days and claims less beyond', () => {
    expect(soon(at('2026-11-27T12:00Z'), at('2026-11-25T08:00Z'), 'UTC')).toBe('Fri 27 Nov');
    expect(soon(at('2026-12-16T12:00Z'), at('2026-11-25T08:00Z'), 'UTC')).toBe('about 16 Dec');
    expect(soon(at('2027-01-16T12:00Z'), at('2026-11-25T08:00Z'), 'UTC')).toBe('about 16 Jan 2027');
  });
  it('writes ranges with an en dash', () => {
    expect(range(at('2026-11-26T12:00Z'), at('2026-11-28T12:00Z'), 'UTC')).toBe('26–28 Nov');
    expect(range(at('2026-11-30T12:00Z'), at('2026-12-04T12:00Z'), 'UTC')).toBe('30 Nov – 4 Dec');
  });
  it('keeps to the loop’s zone', () => expect(civil(at('2026-03-01T23:30Z'), 'Europe/Vienna')).toMatchObject({ day: 2, hour: 0, minute: 30 }));
  // Clocks in Vienna went forward on 29 March 2026 and go back on 25 October 2026 (EU rule: last Sunday of the month).
  it.each([['2026-03-28T12:00Z', '2026-03-28T23:00Z', '2026-03-29T22:00Z'], ['2026-10-24T12:00Z', '2026-10-24T22:00Z', '2026-10-25T23:00Z']])(
    'follows a day of 23 or 25 hours after %s', (from, day, after) => {
      const first = nextDay(at(from), 'Europe/Vienna');
      expect(first).toBe(at(day));
      expect(nextDay(first, 'Europe/Vienna')).toBe(at(after));
      expect(startOfDay(at(after) + 5 * 3_600_000, 'Europe/Vienna')).toBe(at(after));
    });
  it('counts days by the calendar from day 0', () => {
    expect(dayNumber(at('2026-03-19T07:15Z'), at('2026-03-02T20:00Z'), 'UTC')).toBe(17);
    expect(dayNumber(at('2026-03-02T23:59Z'), at('2026-03-02T00:00Z'), 'UTC')).toBe(0);
  });
  it('reads an unknown zone as UTC', () => expect(civil(at('2026-03-01T23:30Z'), 'Not/AZone')).toMatchObject({ day: 1, hour: 23 }));
});

describe('numbers', () => {
  it.each([[0.001, '0'], [0.034, '0.03'], [0.28, '0.28'], [0.6, '0.6'], [2.44, '2.4'], [9.96, '10'], [16.4, '16'], [103, '100'], [1414, '1\u202f410'], [NaN, '–']])(
    '%f reads %s', (value, text) => expect(amount(value)).toBe(text));
  it.each([[3.19, '3.1'], [47.9, '47'], [193, '190'], [3, '3.0']])('%f g is never rounded up', (value, text) => expect(grams(value)).toBe(text));
  it('writes formulas with real subscripts', () => expect(formulas('80 mg/L (as CaCO3), NH3, NO2')).toBe('80 mg/L (as CaCO₃), NH₃, NO₂'));
});

describe('doubts', () => {
  const entry = (line: number, when: string): Entry =>
    ({ line, when, what: 'nitrite', value: '1', unit: '', detail: '', author: null, kind: 'reading', used: true, reading: null, label: null });
  it('letters entries by time, one letter an entry', () => {
    const found = lettered([{ entry: 9, code: 'x', text: 'late' }, { entry: 2, code: 'x', text: 'early' }, { entry: 9, code: 'y', text: 'again' }, { entry: null, code: 'z', text: 'all' }],
      [entry(9, '2026-03-05T00:00Z'), entry(2, '2026-03-01T00:00Z')]);
    expect(found.lettered.map(({ letter: name, entry: { line }, texts }) => [name, line, texts])).toEqual([['a', 2, ['early']], ['b', 9, ['late', 'again']]]);
    expect(found.general).toEqual(['all']);
  });
  it('goes on after z', () => expect([letter(25), letter(26), letter(27)]).toEqual(['z', 'aa', 'ab']));
});
