// SPDX-License-Identifier: Apache-2.0
// What each test would save if made now or soon, as rows and columns.
import type { NextTest, TestWorth } from '../contract';

export interface GainRow { key: string; worth: TestWorth; hours: (number | null)[] }  // hours of start-up saved; null: not weighed at that time
export interface Gains { times: { inHours: number; when: string }[]; rows: GainRow[]; changes: { key: string; worth: TestWorth }[] }

// Less than this many days of start-up is not worth a sentence of its own.
const kWorthAWord = 0.004;

const keyOf = (worth: TestWorth) => (worth.after_challenge ? 'dose,' : '') + worth.tests.join(',');

export function gainsOf(next: NextTest): Gains {
  const times: Gains['times'] = [];
  const rows = new Map<string, TestWorth[]>();
  for (const worth of next.tests) {
    if (!times.some((time) => time.inHours === worth.in_hours)) times.push({ inHours: worth.in_hours, when: worth.when });
    const key = keyOf(worth);
    rows.set(key, [...(rows.get(key) ?? []), worth]);
  }
  times.sort((a, b) => a.inHours - b.inHours);
  const best = (worths: TestWorth[]) => worths.reduce((a, b) => (b.gain - b.cost > a.gain - a.cost ? b : a));
  return {
    times,
    rows: [...rows].map(([key, worths]) => ({
      key, worth: worths[0]!,
      hours: times.map(({ inHours }) => { const found = worths.find((worth) => worth.in_hours === inHours); return found ? found.gain * 24 : null; }),
    })),
    changes: [...rows].map(([key, worths]) => ({ key, worth: best(worths) })).filter(({ worth }) => worth.gain >= kWorthAWord && worth.decides !== null),
  };
}
