// SPDX-License-Identifier: Apache-2.0
// Later readings by test, each where it fell in the range that was given for it.
import { kTests, type Test, type Track, type TrackCase } from '../contract';

// Looked at up to this many days ahead every reading is a case once (docs/reference/track.md).
export const kNearDays = 3;
export const isOutside = (rank: number) => rank < 0.05 || rank > 0.95;

export interface TrackRow { test: Test; cases: TrackCase[]; inside: number }

export function trackRows(track: Track): TrackRow[] {
  const near = track.cases.filter((one) => one.lead_days <= kNearDays);
  const drawn = near.length ? near : track.cases;
  return kTests.map((test) => {
    const cases = drawn.filter((one) => one.test === test);
    return { test, cases, inside: cases.filter((one) => !isOutside(one.rank)).length };
  }).filter((row) => row.cases.length > 0);
}

// Fewer than 8 in 10 inside where 9 in 10 were stated, by enough readings to say so.
export const tooSure = (track: Track) => track.near.n >= 20 && track.near.in_90 / track.near.n < 0.8;
