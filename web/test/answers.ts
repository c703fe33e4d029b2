// SPDX-License-Identifier: Apache-2.0
// Invented answers of the server for tests of components; no number of them was measured or computed.
import type { FishAnswer, KeptLimits, NextTest, Track, TrackCase, Why } from '../src/contract';

const kDayMs = 86_400_000, kNow = Date.UTC(2026, 10, 25, 8);
const at = (days: number) => new Date(kNow + days * kDayMs).toISOString();

export const next: NextTest = {
  text: 'Test nitrite tomorrow morning (Thu 26 Nov); nitrate can wait till Monday.', decision: 'whether to give ammonia', because: 'if it shows nitrite 6 mg/L as NO2: give none; without it: give ammonia',
  advised: { tests: ['nitrite'], in_hours: 24, when: at(1), after_challenge: false, for_safety: false },
  tests: [
    { tests: ['nitrate'], after_challenge: false, in_hours: 0, when: at(0), gain: 0, cost: 0.1, decides: null, would_change: 'nothing' },
    { tests: ['nitrite'], after_challenge: false, in_hours: 24, when: at(1), gain: 0.25, cost: 0.05, decides: 'whether to give ammonia', would_change: 'if it shows nitrite 6 mg/L as NO2: give none; without it: give ammonia' },
    { tests: ['nitrate'], after_challenge: false, in_hours: 24, when: at(1), gain: 0.001, cost: 0.1, decides: null, would_change: 'nothing' },
    { tests: ['ammonia', 'nitrite'], after_challenge: true, in_hours: 24, when: at(1), gain: 0.5, cost: 0.6, decides: 'whether fish may go in this week', would_change: 'if it shows both gone: put fish in; without it: put no fish in this week' },
  ],
  can_wait: [{ test: 'nitrate', until: at(5) }, { test: 'ph', until: null }],
};

const cause = (name: string, probability: number, caution: string[] = []) => ({
  cause: name, title: `Title of ${name}`, text: `Text of ${name}.`, probability, because: [`for it: fact of ${name}`], look: `Look for ${name}.`, remedy: `Remedy of ${name}.`, caution, confidence: 'estimate' as const,
});
export const why: Why = {
  loop: 'Invented', as_of: at(0), started: at(-20), readings_used: 20, effective_members: 400, verdict: 'low_alkalinity', text: 'Title of low_alkalinity (8 in 10). Text of low_alkalinity.',
  explanations: [cause('low_alkalinity', 0.84, ['Wear gloves.', 'Test ammonia first.']), cause('young', 0.12), cause('light', 0.03), cause('no_seed', 0.01)],
  set_aside: [{ cause: 'cold', because: 'the log has temperature readings' }],
  next_test: { test: 'alkalinity', in_days: 0, unit: 'mg/L CaCO3', overlap: 0.02, text: 'Test alkalinity.', expected: [{ cause: 'low_alkalinity', p10: 2, p50: 5, p90: 9 }, { cause: 'young', p10: 60, p50: 80, p90: 100 }] },
  elapsed_ms: 1,
};

export const kept = (probability: number): KeptLimits => ({ probability, ammonia: probability, free_ammonia: 1, nitrite: probability, oxygen: 1, ph: 1 });
const limit = { value: 1, unit: 'mg/L', source: 'nobody', confidence: 'memory' as const, says: 'Less than 1.' };
export const fish: FishAnswer = {
  loop: 'Invented', as_of: at(0), effective_members: 900, fish: false, verdict: 'not_yet', part_now: true, headline: 'Not yet for all 20 fish. A part can go in.', because: ['nitrite at or below 1 mg/L: 94 in 100'], steps: ['Wait.'],
  asked: { count: 20, weight_g: 50, species: 'tilapia', known_as: 'tilapia', feed_g_per_day: 20, feed_from: '2 % of body weight a day' },
  aim: 0.95, judged_days: 14, water: 'warm', limits: { ammonia: limit, free_ammonia: limit, nitrite: limit, oxygen: limit, ph: limit },
  after: [{ days: 0, when: at(0), full: kept(0.949), ramp: kept(0.99), ramp_first_share: 0.25, ramp_holds: true }, { days: 7, when: at(7), full: kept(0.96), ramp: kept(0.99), ramp_first_share: 0.25, ramp_holds: true }],
  challenge: { ammonia_mg_l: 2, ammonium_chloride_g: 3.19, now: true, would_pass: 0.9, capped: false, test_after_hours: 24, cautions: ['Ammonia poisons fish.'] },
  last_challenge: { verdict: 'not_passed', dosed: at(-3), ammonia_mg_l: 1.9, probability: 0.004, read: true, text: 'It was still there.' },
  feed_and_water: null, without_change: null, salt: null,
  weeks: [{ from: at(0), share: 0.25, fish: 5, feed_g_per_day: 5, probability: 0.999, tests: 7 }, { from: at(7), share: 0, fish: 0, feed_g_per_day: 0, probability: 1, tests: 4 }],
  hold_rules: ['Hold if ammonia shows.'], emergency: [], cautions: ['Let fish get used to the water.'], elapsed_ms: 1,
};
export const feed: FishAnswer = {
  ...fish, fish: true, headline: 'Feed less.', challenge: null, last_challenge: null, after: [], weeks: [],
  feed_and_water: { meets_aim: false, feed_g_per_day: 0, feed_share: 0, change_share: 0.5, change_every_days: 1, kept: kept(0.01), kept_from_day_4: kept(0.9) },
  without_change: null, salt: { chloride_mg_l: 24, sodium_chloride_g: 11.9, cautions: ['Hardly any crop stands salt.'] }, emergency: ['Stop feeding today.'],
};

const one = (test: string, rank: number, lead_days = 1): TrackCase => ({ loop: 'Invented', when: at(-1), as_of: at(-2), entry: 3, test, value: '0.3', lead_days, low: 0.2, high: 0.4, p05: 0.1, p25: 0.2, p50: 0.3, p75: 0.4, p95: null, rank });
const tally = { n: 4, in_50: 2, in_90: 3, share_50: [0.1, 0.9] as [number, number], share_90: [0.2, 0.99] as [number, number] };
export const track: Track = { text: 'Of 4 later readings 3 fell into the range.', loops: ['Invented'], since: at(-10), cases_all: 5, near: tally, far: { ...tally, n: 1 },
  cases: [one('ammonia', 0.5), one('ammonia', 0.97), one('nitrite', 0.1), one('nitrite', 0.04), one('nitrite', 0.5, 6)] };
