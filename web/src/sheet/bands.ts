// SPDX-License-Identifier: Apache-2.0
// Paths of the bands and the middle line, and values between two moments of the series.
import type { Moment, Quantiles, Test } from '../contract';
import type { Scale, TimeScale } from './scales';

export interface Point { at: number; q: Quantiles }

export function pointsOf(series: Moment[], test: Test, factor: number): Point[] {
  return series.map((moment) => {
    const q = moment[test];
    return { at: Date.parse(moment.when), q: { p05: q.p05 * factor, p25: q.p25 * factor, p50: q.p50 * factor, p75: q.p75 * factor, p95: q.p95 * factor } };
  });
}

const kKeys = ['p05', 'p25', 'p50', 'p75', 'p95'] as const;

export function valueAt(points: Point[], at: number): Quantiles | null {
  const after = points.findIndex((point) => point.at >= at);
  if (after < 0 || points.length === 0) return null;
  const b = points[after]!;
  if (b.at === at || after === 0) return b.at === at ? b.q : null;
  const a = points[after - 1]!;
  const share = (at - a.at) / (b.at - a.at);
  return Object.fromEntries(kKeys.map((key) => [key, a.q[key] + share * (b.q[key] - a.q[key])])) as unknown as Quantiles;
}

// The points inside a window, cut exactly at its ends.
export function windowed(points: Point[], from: number, to: number): Point[] {
  const inside = points.filter((point) => point.at > from && point.at < to);
  const first = valueAt(points, from), last = valueAt(points, to);
  return [...(first ? [{ at: from, q: first }] : []), ...inside, ...(last ? [{ at: to, q: last }] : [])];
}

const px = (value: number) => (Math.round(value * 10) / 10).toString();

export function linePath(points: Point[], key: keyof Quantiles, x: TimeScale, y: Scale): string {
  return points.map((point, k) => `${k ? 'L' : 'M'}${px(x(point.at))} ${px(y(point.q[key]))}`).join('');
}
export function bandPath(points: Point[], low: keyof Quantiles, high: keyof Quantiles, x: TimeScale, y: Scale): string {
  if (points.length < 2) return '';
  const back = [...points].reverse().map((point) => `L${px(x(point.at))} ${px(y(point.q[low]))}`).join('');
  return `${linePath(points, high, x, y)}${back}Z`;
}
