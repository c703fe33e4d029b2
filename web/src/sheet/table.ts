// SPDX-License-Identifier: Apache-2.0
// The numbers of a sheet as rows: every reading with what was thought of the water at that time, and each coming day at noon.
import type { Quantiles, Test } from '../contract';
import { t } from '../locale/text';
import { dateTime, dayMonth, kDay, nextDay, startOfDay } from '../words/dates';
import { amount, ph } from '../words/numbers';
import { valueAt } from './bands';
import type { Panel } from './panels';

export interface TableRow { at: number; when: string; read: string; low: string; high: string; middle: string; range: string; ahead: boolean }

export const shownNumber = (test: Test, value: number) => (test === 'ph' ? ph(value) : amount(value));
const kOpen = '–';

export function valueText(test: Test, q: Quantiles): string {
  return `${shownNumber(test, q.p50)} (${rangeText(test, q)})`;
}
export function rangeText(test: Test, q: Quantiles): string {
  const low = shownNumber(test, q.p05), high = shownNumber(test, q.p95);
  if (test !== 'ph' && q.p95 < 0.05) return t('range.under', { high: '0.05' });
  return low === high ? low : `${low} to ${high}`;
}

export function tableRows(panel: Panel, now: number, to: number, zone: string): TableRow[] {
  const water = (at: number) => {
    const q = valueAt(panel.all, at);
    return { middle: q ? shownNumber(panel.test, q.p50) : kOpen, range: q ? rangeText(panel.test, q) : kOpen };
  };
  const end = (value: number | null) => (value === null ? kOpen : shownNumber(panel.test, value));
  const rows: TableRow[] = panel.marks.map((mark) => ({
    at: mark.at, when: dateTime(mark.at, zone), read: mark.entry.value, low: end(mark.low), high: end(mark.high), ...water(mark.at), ahead: mark.at > now,
  }));
  for (let day = nextDay(startOfDay(now, zone), zone); day + kDay / 2 <= to; day = nextDay(day, zone)) {
    const noon = day + kDay / 2;
    rows.push({ at: noon, when: dayMonth(noon, zone), read: kOpen, low: kOpen, high: kOpen, ...water(noon), ahead: true });
  }
  return rows.sort((a, b) => a.at - b.at);
}
