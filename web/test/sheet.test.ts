// SPDX-License-Identifier: Apache-2.0
import { describe, expect, it } from 'vitest';
import { bandPath, valueAt, windowed, type Point } from '../src/sheet/bands';
import { marksOf, type Panel } from '../src/sheet/panels';
import { domain, labelled, linearScale, rootScale, roundTicks, ticks, timeScale } from '../src/sheet/scales';
import { tableRows } from '../src/sheet/table';
import type { Entry, Kit, ReadingForm } from '../src/contract';
import { kDay } from '../src/words/dates';

const q = (p50: number) => ({ p05: p50 * 0.5, p25: p50 * 0.8, p50, p75: p50 * 1.2, p95: p50 * 1.5 });

describe('scales', () => {
  it('puts a quarter of the top at half the height of a square-root panel', () => {
    const y = rootScale(16, 0, 100);
    expect([y(0), y(4), y(16), y(-1)]).toEqual([100, 50, 0, 100]);
  });
  it('is linear for pH and time, and back again', () => {
    expect(linearScale(6, 8, 0, 100)(7)).toBe(50);
    const x = timeScale(1000, 3000, 40, 240);
    expect(x(2000)).toBe(140);
    expect(x.back(140)).toBe(2000);
  });
  it('holds every value and never shrinks below the least span', () => {
    expect(domain('nitrite', [0.1, NaN], 2)).toEqual([0, 2]);
    const [low, high] = domain('ph', [7.5, 7.6], 0.8);
    expect(high - low).toBeCloseTo(0.8);
    expect(low).toBeLessThan(7.5);
  });
  it('uses the steps of the chart, and marks what lies beyond them', () => {
    const y = rootScale(30, 0, 150);
    const all = ticks('nitrite', [0, 0.5, 2, 8], y);
    expect(all.filter((tick) => !tick.beyond).map((tick) => tick.value)).toEqual([0, 0.5, 2, 8]);
    expect(all.filter((tick) => tick.beyond).map((tick) => tick.value)).toEqual([10, 20]);
    const kept = labelled(all, y, 13).map((tick) => y(tick.value)).sort((a, b) => a - b);
    for (let k = 1; k < kept.length; ++k) expect(kept[k]! - kept[k - 1]!).toBeGreaterThanOrEqual(13);
  });
  it('falls back on round numbers', () => expect(roundTicks('ph', 7, 8.6)).toEqual([7, 7.5, 8, 8.5]));
});

describe('bands', () => {
  const points: Point[] = [{ at: 0, q: q(1) }, { at: 10, q: q(3) }];
  it('reads between two moments and nothing outside them', () => {
    expect(valueAt(points, 5)!.p50).toBe(2);
    expect(valueAt(points, 11)).toBeNull();
    expect(valueAt(points, -1)).toBeNull();
  });
  it('cuts at the ends of the window', () => expect(windowed(points, 2, 8).map((point) => point.at)).toEqual([2, 8]));
  it('closes the band', () => expect(bandPath(points, 'p05', 'p95', timeScale(0, 10, 0, 10), rootScale(9, 0, 9))).toMatch(/^M0 .*Z$/));
});

describe('readings', () => {
  const kit: Kit = { test: 'nitrite', basis: 'N', steps: [0, 0.5, 2], steps_page: [0, 1.64, 6.57] };
  const entry = (value: string, form: ReadingForm): Entry => ({ line: 3, when: '2026-03-04T08:00Z', what: 'nitrite', value, unit: 'mg/L', detail: '', author: null,
    kind: 'reading', used: true, label: null, reading: { test: 'nitrite', low: 0.8, high: 3.3, centre: null, shape: 'interval', form, doubted: false } });
  it('puts the dot at the step of the chart, in page units', () => expect(marksOf([entry('0.5', 'step')], 'nitrite', kit, 1)[0]!.step).toBe(1.64));
  it('multiplies a diluted step', () => expect(marksOf([entry('0.5*10', 'step')], 'nitrite', kit, 1)[0]!.step).toBeCloseTo(16.4));
  it('gives no dot to a reading between two steps', () => expect(marksOf([entry('0.5..2', 'between')], 'nitrite', kit, 1)[0]!.step).toBeNull());

  it('lists readings and coming days at noon', () => {
    const start = Date.parse('2026-03-04T00:00Z');
    const panel: Panel = { test: 'nitrite', top: 0, bottom: 100, y: rootScale(10, 0, 100), steps: [], shown: { factor: 1, unit: 'mg/L as NO₂⁻', short: 'mg/L' },
      all: [{ at: start, q: q(2) }, { at: start + 4 * kDay, q: q(2) }], points: [], old: [], marks: marksOf([entry('0.5', 'step')], 'nitrite', kit, 1) };
    const rows = tableRows(panel, start + kDay, start + 4 * kDay, 'UTC');
    expect(rows[0]).toMatchObject({ when: 'Wed 4 Mar 08:00', read: '0.5', low: '0.8', high: '3.3', middle: '2.0', range: '1.0 to 3.0', ahead: false });
    expect(rows.slice(1).map((row) => row.when)).toEqual(['6 Mar', '7 Mar']);
  });
});
