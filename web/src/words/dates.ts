// SPDX-License-Identifier: Apache-2.0
// Dates in the loop's own zone: a weekday within ten days, "about" beyond, a range with an en dash.
import { t } from '../locale/text';

export const kDay = 86_400_000;
const formats = new Map<string, Intl.DateTimeFormat>();

// A zone the browser does not know is read as UTC.
export function formatter(zone: string, options: Intl.DateTimeFormatOptions): Intl.DateTimeFormat {
  const key = zone + JSON.stringify(options);
  let format = formats.get(key);
  if (!format) {
    try { format = new Intl.DateTimeFormat('en-GB', { ...options, timeZone: zone }); }
    catch { format = new Intl.DateTimeFormat('en-GB', { ...options, timeZone: 'UTC' }); }
    formats.set(key, format);
  }
  return format;
}

const kMonths = ['Jan', 'Feb', 'Mar', 'Apr', 'May', 'Jun', 'Jul', 'Aug', 'Sep', 'Oct', 'Nov', 'Dec'];
export interface Civil { year: number; month: number; day: number; weekday: string; hour: number; minute: number }

export function civil(ms: number, zone: string): Civil {
  const parts: Record<string, string> = {};
  const format = formatter(zone, { year: 'numeric', month: 'numeric', day: 'numeric', weekday: 'short', hour: 'numeric', minute: 'numeric', hourCycle: 'h23' });
  for (const { type, value } of format.formatToParts(ms)) parts[type] = value;
  return { year: +parts['year']!, month: +parts['month']!, day: +parts['day']!, weekday: parts['weekday']!, hour: +parts['hour']!, minute: +parts['minute']! };
}

export const dayMonth = (ms: number, zone: string) => { const c = civil(ms, zone); return `${c.day} ${kMonths[c.month - 1]}`; };
export const weekdayDate = (ms: number, zone: string) => `${civil(ms, zone).weekday} ${dayMonth(ms, zone)}`;
export const fullDate = (ms: number, zone: string) => `${weekdayDate(ms, zone)} ${civil(ms, zone).year}`;
export function clock(ms: number, zone: string): string {
  const c = civil(ms, zone);
  return `${String(c.hour).padStart(2, '0')}:${String(c.minute).padStart(2, '0')}`;
}
export const dateTime = (ms: number, zone: string) => `${weekdayDate(ms, zone)} ${clock(ms, zone)}`;

// As seen from `from`: near dates carry their weekday, far ones claim less.
export function soon(ms: number, from: number, zone: string): string {
  const years = civil(ms, zone).year === civil(from, zone).year ? '' : ` ${civil(ms, zone).year}`;
  if (Math.abs(ms - from) <= 10 * kDay) return weekdayDate(ms, zone) + years;
  return t('date.about', { date: dayMonth(ms, zone) + years });
}

export function range(low: number, high: number, zone: string): string {
  const a = civil(low, zone), b = civil(high, zone);
  if (a.year === b.year && a.month === b.month) return a.day === b.day ? dayMonth(low, zone) : `${a.day}–${dayMonth(high, zone)}`;
  return `${dayMonth(low, zone)} – ${dayMonth(high, zone)}`;
}

// Midnight of the civil day that holds `ms`; a day of 23 or 25 hours is followed because the search is by the clock.
export function startOfDay(ms: number, zone: string): number {
  const c = civil(ms, zone);
  let start = ms - (c.hour * 60 + c.minute) * 60_000 - (ms % 60_000);
  const late = civil(start, zone);
  if (late.hour !== 0 || late.day !== c.day) start += late.day === c.day ? -late.hour * 3_600_000 : (24 - late.hour) * 3_600_000;
  return start;
}
export function nextDay(ms: number, zone: string): number { return startOfDay(startOfDay(ms, zone) + 26.5 * 3_600_000, zone); }

// Day 0 is the day the water went in.
export function dayNumber(ms: number, started: number, zone: string): number {
  return Math.round((startOfDay(ms, zone) - startOfDay(started, zone)) / kDay);
}
export const ms = (instant: string | null | undefined): number | null => (instant ? Date.parse(instant) : null);
