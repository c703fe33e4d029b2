// SPDX-License-Identifier: Apache-2.0
// An invented outlook for tests of words; no number of it was measured or computed.
import type { DateQuantiles, Outlook, StageName } from '../src/contract';

export const q = (p50: number) => ({ p05: p50 * 0.5, p25: p50 * 0.9, p50, p75: p50 * 1.1, p95: p50 * 1.5, unit: 'mg/L', basis: 'ion' });
export const never: DateQuantiles = { p05: null, p25: null, p50: null, p75: null, p95: null, probability_within_days: 0, reached: false };
export const between = (from: number, to: number, p = 0.95): DateQuantiles => {
  const at = (share: number) => new Date(Date.UTC(2026, 10, 25, 8) + (from + share * (to - from)) * 86_400_000).toISOString();
  return { p05: at(0), p25: at(0.25), p50: at(0.5), p75: at(0.75), p95: at(1), probability_within_days: p, reached: false };
};
export function outlook(stage: StageName, probability: number, change: Partial<Outlook['milestones']> = {}): Outlook {
  const moment = (when: string) => ({ when, ammonia: q(1), nitrite: q(7), nitrate: q(5), alkalinity: q(95), ph: q(7.6) });
  return {
    loop: 'Invented', as_of: '2026-11-25T08:00:00Z', started: '2026-11-13T08:00:00Z', readings_used: 30, members: 4000, effective_members: 1500, seed: 1, engine: '',
    plan: { in_force: true, redose: 'none', redose_to_mg_l: 2, redose_below_mg_l: 0.25, redose_while_nitrite_below_mg_l: 5, buffer_below_mg_l_caco3: null,
      buffer_to_mg_l_caco3: null, feed_g_per_day: null, protein_percent: 32, ready_load_mg_l: 2 },
    now: { ammonia: q(1), nitrite: q(7), nitrate: q(5), alkalinity: q(95), ph: q(7.6), free_ammonia: q(0.01), ammonia_capacity: q(1), nitrite_capacity: q(1) },
    stage: { name: stage, since: '2026-11-20T08:00:00Z', probability },
    milestones: { ammonia_first_clear: never, nitrite_peak: never, nitrite_first_clear: never, ready_for_fish: never, alkalinity_runs_out: never, ...change },
    risk: { applies: false }, series: [moment('2026-11-13T08:00:00Z'), moment('2027-01-24T08:00:00Z')], advice: [], doubts: [],
  };
}
