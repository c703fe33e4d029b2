// SPDX-License-Identifier: Apache-2.0
// Whether a loop looks as if it stood still, and which of the causes are worth a row of their own.
import { kTests, type Explanation, type Outlook, type Why } from '../contract';
import { kDay, ms } from './dates';

// All borders below are this page's own: they only decide how loudly the question is offered, not what is answered.
export const kFlatDays = 14;
const kWaiting = 0.5;      // mg/L of ammonia or nitrite, in page units, that still waits to be turned over
const kMoved = 0.3;        // a middle course that changed by this share of its highest value has moved
const kShownFrom = 0.03;

export function isFlat(outlook: Outlook): boolean {
  const now = ms(outlook.as_of)!, from = now - kFlatDays * kDay;
  if (outlook.readings_used === 0 || ms(outlook.started)! > from) return false;
  if (Math.max(outlook.now.ammonia.p50, outlook.now.nitrite.p50) < kWaiting) return false;
  const span = outlook.series.filter(({ when }) => Date.parse(when) >= from && Date.parse(when) <= now);
  return kTests.filter((test) => test === 'ammonia' || test === 'nitrite' || test === 'nitrate').every((test) => {
    const course = span.map((moment) => moment[test].p50);
    const high = Math.max(...course);
    return high - Math.min(...course) <= Math.max(kWaiting, kMoved * high);
  });
}

export const looksStuck = (outlook: Outlook) => outlook.stage.name === 'stalled' || isFlat(outlook);

// The first two always, since the test tells these apart.
export function causes(why: Why): { shown: Explanation[]; rest: Explanation[] } {
  const shown = why.explanations.filter(({ probability }, k) => k < 2 || probability >= kShownFrom);
  return { shown, rest: why.explanations.filter((each) => !shown.includes(each)) };
}
