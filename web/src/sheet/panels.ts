// SPDX-License-Identifier: Apache-2.0
// Where everything on a sheet stands: one time axis, one panel a test, always in the same order.
import { kTests, type Entry, type Kit, type Outlook, type Test } from '../contract';
import type { NitrogenBasis, Shown } from '../units';
import { kitOf, shownAs, stepsInPageUnits } from '../units';
import { pointsOf, windowed, type Point } from './bands';
import { domain, isRoot, linearScale, rootScale, timeScale, type Scale, type TimeScale } from './scales';

export interface SheetWindow { from: number; to: number }

export interface PanelMark { entry: Entry; at: number; low: number | null; high: number | null; centre: number | null; step: number | null }
export interface Panel {
  test: Test; top: number; bottom: number; y: Scale; steps: number[]; shown: Shown;
  all: Point[]; points: Point[]; old: Point[]; marks: PanelMark[];
}
export interface Layout { width: number; phone: boolean; x: TimeScale; deedsBottom: number; panels: Panel[]; plotBottom: number; height: number }

const kHeights: Record<'phone' | 'desk' | 'paper', Record<Test, number>> = {
  paper: { ammonia: 66, nitrite: 100, nitrate: 56, alkalinity: 50, ph: 50 },
  desk: { ammonia: 118, nitrite: 176, nitrate: 104, alkalinity: 92, ph: 88 },
  phone: { ammonia: 100, nitrite: 138, nitrate: 90, alkalinity: 82, ph: 78 },
};
// Narrowest span a panel shows, in page units, so that a flat line does not look like a storm.
const kLeast: Record<Test, number> = { ammonia: 2, nitrite: 2, nitrate: 10, alkalinity: 40, ph: 0.8 };
export const kDeeds = 36, kRuler = 34, kTitle = 24;

// The step the reading names, as the owner's chart counts it.
function stepOf(entry: Entry, kit: Kit | null, test: Test): number | null {
  if (!kit || entry.reading?.form !== 'step' && entry.reading?.form !== 'about') return null;
  const text = entry.value.replace(/[~?\s]/g, '').replace(/\*.*$/, '');
  const dilution = /\*\s*(\d+(\.\d+)?)/.exec(entry.value)?.[1];
  const index = kit.steps.findIndex((step) => Math.abs(step - Number(text)) < 1e-9);
  if (text === '' || index < 0) return null;
  return (stepsInPageUnits(kit, test)[index] ?? NaN) * (dilution ? Number(dilution) : 1);
}

export function marksOf(entries: Entry[], test: Test, kit: Kit | null, factor: number): PanelMark[] {
  const scaled = (value: number | null) => (value === null ? null : value * factor);
  return entries.flatMap((entry) => {
    if (!entry.reading || entry.reading.test !== test || !entry.when) return [];
    const { low, high, centre } = entry.reading;
    return { entry, at: Date.parse(entry.when), low: scaled(low), high: scaled(high), centre: scaled(centre), step: scaled(stepOf(entry, kit, test)) };
  });
}

export interface LayoutInput {
  outlook: Outlook; old?: Outlook | null; entries: Entry[]; kits: Kit[]; basis: NitrogenBasis; width: number; window: SheetWindow; paper?: boolean;
}

export function layoutOf({ outlook, old, entries, kits, basis, width, window, paper = false }: LayoutInput): Layout {
  const phone = width < 620;
  const x = timeScale(window.from, window.to, phone ? 34 : 46, width - 1);
  let top = kDeeds;
  const panels = kTests.map((test): Panel => {
    const kit = kitOf(kits, test);
    const shown = shownAs(test, basis, kit);
    const steps = stepsInPageUnits(kit, test).map((step) => step * shown.factor);
    const all = pointsOf(outlook.series, test, shown.factor);
    const points = windowed(all, window.from, window.to);
    const before = old ? windowed(pointsOf(old.series, test, shown.factor), Math.max(window.from, Date.parse(old.as_of)), window.to) : [];
    const marks = marksOf(entries, test, kit, shown.factor).filter((mark) => mark.at >= window.from && mark.at <= window.to);
    const values = [...points, ...before].flatMap((point) => [point.q.p05, point.q.p95]);
    for (const mark of marks) for (const value of [mark.low, mark.high, mark.step, mark.centre]) if (value !== null) values.push(value);
    const [low, high] = domain(test, values, kLeast[test] * shown.factor);
    const bottom = top + kHeights[paper ? 'paper' : phone ? 'phone' : 'desk'][test];
    const y = isRoot(test) ? rootScale(high, top + kTitle, bottom) : linearScale(low, high, top + kTitle, bottom - 6);
    const panel = { test, top, bottom, y, steps, shown, all, points, old: before, marks };
    top = bottom;
    return panel;
  });
  return { width, phone, x, deedsBottom: kDeeds, panels, plotBottom: top, height: top + kRuler };
}
