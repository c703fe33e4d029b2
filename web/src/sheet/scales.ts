// SPDX-License-Identifier: Apache-2.0
// From values to pixels. Concentrations stand on a square-root scale, because a chart's steps grow about that way; pH and
// alkalinity are linear.
import type { Test } from '../contract';

export interface Scale { (value: number): number; low: number; high: number }

export function timeScale(from: number, to: number, x0: number, x1: number) {
  const scale = (ms: number) => x0 + ((ms - from) / (to - from)) * (x1 - x0);
  return Object.assign(scale, { from, to, x0, x1, back: (x: number) => from + ((x - x0) / (x1 - x0)) * (to - from) });
}
export type TimeScale = ReturnType<typeof timeScale>;

export function rootScale(high: number, top: number, bottom: number): Scale {
  const scale = (value: number) => bottom - Math.sqrt(Math.max(0, value) / high) * (bottom - top);
  return Object.assign(scale, { low: 0, high });
}
export function linearScale(low: number, high: number, top: number, bottom: number): Scale {
  const scale = (value: number) => bottom - ((value - low) / (high - low)) * (bottom - top);
  return Object.assign(scale, { low, high });
}
export const isRoot = (test: Test) => test === 'ammonia' || test === 'nitrite' || test === 'nitrate';

// What a panel must hold, in shown units: all numbers handed in, widened a little and never narrower than `least`.
export function domain(test: Test, values: number[], least: number): [number, number] {
  const finite = values.filter(Number.isFinite);
  const most = finite.length ? Math.max(...finite) : least, fewest = finite.length ? Math.min(...finite) : 0;
  if (isRoot(test)) return [0, Math.max(most * 1.06, least)];
  const pad = Math.max((least - (most - fewest)) / 2, (most - fewest) * 0.06);
  const low = fewest - pad;
  return [test === 'ph' ? low : Math.max(0, low), most + pad];
}

export interface Tick { value: number; beyond: boolean }

// Round numbers for a panel whose chart is unknown, or for what lies above the chart.
export function roundTicks(test: Test, low: number, high: number): number[] {
  if (isRoot(test)) {
    const out = [0];
    for (const decade of [0.01, 0.1, 1, 10, 100, 1000]) for (const digit of [1, 2, 5]) out.push(+(digit * decade).toPrecision(2));
    return out.filter((value) => value <= high && (value === 0 || value >= high / 40));
  }
  const raw = (high - low) / 4, size = 10 ** Math.floor(Math.log10(raw));
  const step = [1, 2, 5, 10].map((digit) => digit * size).find((candidate) => candidate >= raw)!;
  const out = [];
  for (let k = Math.ceil(low / step); k * step <= high; ++k) out.push(+(k * step).toPrecision(6));
  return out;
}

// The owner's own steps where they are in view; round numbers, marked as beyond, above the last of them.
export function ticks(test: Test, steps: number[], scale: Scale): Tick[] {
  const own = steps.filter((step) => step >= scale.low - 1e-9 && step <= scale.high + 1e-9);
  if (own.length < 2) return roundTicks(test, scale.low, scale.high).map((value) => ({ value, beyond: false }));
  const top = steps.at(-1)!;
  const more = top < scale.high ? roundTicks(test, scale.low, scale.high).filter((value) => value > top * 1.15) : [];
  return [...own.map((value) => ({ value, beyond: false })), ...more.map((value) => ({ value, beyond: true }))];
}

// Labels that would collide are left out, never moved; the ends are kept first.
export function labelled(all: Tick[], scale: Scale, gap: number): Tick[] {
  const order = all.length > 1 ? [all[0]!, all.filter((tick) => !tick.beyond).at(-1)!, ...all.slice(1).reverse()] : all;
  const kept: Tick[] = [];
  for (const tick of order) {
    if (kept.every((other) => other !== tick && Math.abs(scale(other.value) - scale(tick.value)) >= gap)) kept.push(tick);
  }
  return kept;
}
