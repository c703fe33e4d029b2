// SPDX-License-Identifier: Apache-2.0
// What the server answers, as types. Instants are UTC text ending in Z; an open end or a date that never comes is null.
// Page units: ammonia mg/L as NH3, nitrite and nitrate mg/L as ion, alkalinity mg/L as CaCO3, temperature degC.

export type Test = 'ammonia' | 'nitrite' | 'nitrate' | 'alkalinity' | 'ph';
export const kTests: readonly Test[] = ['ammonia', 'nitrite', 'nitrate', 'alkalinity', 'ph'];

export interface Quantiles { p05: number; p25: number; p50: number; p75: number; p95: number }

export interface DateQuantiles {
  p05: string | null; p25: string | null; p50: string | null; p75: string | null; p95: string | null;
  probability_within_days: number | null;
  reached: boolean;
  applies?: boolean;
  height?: Quantiles;
}

export type MilestoneName =
  'ammonia_first_clear' | 'nitrite_peak' | 'nitrite_first_clear' | 'ready_for_fish' | 'alkalinity_runs_out';
export const kMilestones: readonly MilestoneName[] =
  ['ammonia_first_clear', 'nitrite_peak', 'nitrite_first_clear', 'ready_for_fish', 'alkalinity_runs_out'];

export type StageName = 'empty' | 'waiting' | 'ammonia_falling' | 'nitrite_rising' | 'nitrite_falling' | 'ready' |
  'running' | 'stalled' | 'cannot_tell';

export type Moment = { when: string } & Record<Test, Quantiles>;

export interface Advice { code: string; urgency: 'now' | 'today' | 'this_week' | 'note'; text: string; because: string[]; caution: string[] }
export interface Doubt { entry: number | null; code: string; text: string }
export interface Plan {
  in_force: boolean; redose: 'to_target' | 'none'; redose_to_mg_l: number; redose_below_mg_l: number;
  redose_while_nitrite_below_mg_l: number; buffer_below_mg_l_caco3: number | null; buffer_to_mg_l_caco3: number | null;
  feed_g_per_day: number | null; protein_percent: number; ready_load_mg_l: number;
}
export interface Risk {
  applies: boolean; species?: string | null;
  free_ammonia?: { limit_mg_l_n: number; within_24_h: number; within_72_h: number };
  nitrite?: { limit_mg_l_ion: number; within_24_h: number; within_72_h: number };
}

// A test or a pair at one time; gain and cost in days of start-up. `would_change` is a phrase of the server.
export interface TestWorth {
  tests: Test[]; after_challenge: boolean; in_hours: number; when: string; gain: number; cost: number; decides: string | null; would_change: string;
}
export interface NextTest {
  text: string; decision: string | null; because: string | null;
  advised: { tests: Test[]; in_hours: number; when: string; after_challenge: boolean; for_safety: boolean };
  tests: TestWorth[];
  can_wait: { test: Test; until: string | null }[];
}
export interface History { loops: number; text: string; of: string[] }
export interface Conflict { p: number; said: boolean; kind: string; text: string | null }

export interface Outlook {
  loop: string; as_of: string; started: string; readings_used: number; members: number; effective_members: number;
  seed: number; engine: string; plan: Plan;
  now: Record<Test | 'free_ammonia' | 'ammonia_capacity' | 'nitrite_capacity', Quantiles & { unit: string | null; basis: string | null }>;
  stage: { name: StageName; since: string | null; probability: number };
  milestones: Record<MilestoneName, DateQuantiles>;
  risk: Risk;
  series: Moment[];
  next_test?: NextTest;      // left out of what-ifs
  history?: History;
  conflict?: Conflict;
  advice: Advice[];
  doubts: Doubt[];
  elapsed_ms?: number;
}

export interface Kit { test: string; basis: string | null; steps: number[]; steps_page?: number[] | null; lot?: string | null; id?: string | null }
export interface LoopFacts {
  name: string; volume_l: number | { value: number; sd?: number } | null; time_zone: string; start: string; typical_temperature_c: number | null; kits: Kit[];
}
export type ReadingForm = 'step' | 'between' | 'hint' | 'off_top' | 'about' | 'metered' | 'number' | 'other';
export interface Reading {
  test: string; low: number | null; high: number | null; centre: number | null;
  shape: 'interval' | 'normal' | 'lognormal'; form: ReadingForm; doubted: boolean;
}
export interface Entry {
  line: number; when: string | null; what: string; value: string; unit: string; detail: string; author: string | null;
  kind: string; used: boolean; reading: Reading | null; label: string | null;
}
export interface SheetData { id: string; loop: LoopFacts; entries: Entry[]; doubts: Doubt[] }
export interface LoopLine {
  id: string; name: string; started: string | null; last_entry: string | null; entries: number; fish: boolean; error: string | null;
}

export interface WhatIfWish {
  dose_ammonia_mg_l: number | null; dose_in_days: number; buffer_mg_l_caco3: number | null; buffer_in_days: number;
  temperature_c: number | null; wait_days: number; plan: boolean;
}
export interface WhatIfAnswer {
  outlook: Outlook;
  amounts: { ammonium_chloride_g?: number | null; potassium_bicarbonate_g?: number | null };
  cautions: string[];
  elapsed_ms: number;
}

export type Confidence = 'seen' | 'second_hand' | 'derived' | 'memory' | 'estimate';
export interface Explanation {
  cause: string; title: string; text: string; probability: number; because: string[]; look: string; remedy: string; caution: string[]; confidence: Confidence;
}
// What one test would read under each of two causes; test null: no reading tells them apart, `text` says what to do.
export interface TellingTest {
  test: string | null; in_days: number; unit: string | null; overlap: number; text: string;
  expected: { cause: string; p10: number; p50: number; p90: number }[];
}
export interface Why {
  loop: string; as_of: string; started: string; readings_used: number; effective_members: number; verdict: string; text: string;
  explanations: Explanation[]; set_aside: { cause: string; because: string }[]; next_test: TellingTest | null; elapsed_ms: number;
}

export interface FishWish {
  count: number | null; weight_g: number | null; species: string | null; feed_percent: number | null; feed_g_per_day: number | null;
}
export interface KeptLimits { probability: number; ammonia: number; free_ammonia: number; nitrite: number; oxygen: number; ph: number }
export type LimitName = 'ammonia' | 'free_ammonia' | 'nitrite' | 'oxygen' | 'ph';
export interface FishLimit { value: number; unit: string; source: string; confidence: Confidence; says: string }
export interface FishWeek { from: string; share: number; fish: number | null; feed_g_per_day: number; probability: number; tests: number }
export interface FishAnswer {
  loop: string; as_of: string; effective_members: number; fish: boolean; verdict: 'go' | 'not_yet' | 'cannot_tell'; part_now: boolean;
  headline: string; because: string[]; steps: string[];
  asked: { count: number | null; weight_g: number | null; species: string | null; known_as: string | null; feed_g_per_day: number; feed_from: string };
  aim: number; judged_days: number; water: 'warm' | 'cold'; limits: Record<LimitName, FishLimit>;
  after: { days: number; when: string; full: KeptLimits; ramp: KeptLimits; ramp_first_share: number; ramp_holds: boolean }[];
  challenge: { ammonia_mg_l: number; ammonium_chloride_g: number; now: boolean; would_pass: number; capped: boolean; test_after_hours: number; cautions: string[] } | null;
  last_challenge: { verdict: 'none' | 'too_early' | 'passed' | 'not_passed' | 'cannot_tell'; dosed: string | null; ammonia_mg_l: number | null; probability: number | null; read: boolean; text: string } | null;
  feed_and_water: { meets_aim: boolean; feed_g_per_day: number; feed_share: number; change_share: number; change_every_days: number | null; kept: KeptLimits; kept_from_day_4: KeptLimits } | null;
  without_change: { feed_g_per_day: number; probability: number } | null;
  salt: { chloride_mg_l: number; sodium_chloride_g: number; cautions: string[] } | null;
  weeks: FishWeek[]; hold_rules: string[]; emergency: string[]; cautions: string[]; elapsed_ms: number;
}

// Ranges of earlier outlooks against later readings. `rank`: where in the range the reading fell, 0 its low end, 1 its high end.
export interface TrackTally { n: number; in_50: number; in_90: number; share_50: [number, number]; share_90: [number, number] }
export interface TrackCase {
  loop: string; when: string; as_of: string; entry: number; test: string; value: string; lead_days: number; low: number | null; high: number | null;
  p05: number | null; p25: number | null; p50: number | null; p75: number | null; p95: number | null; rank: number;
}
export interface Track { text: string; loops: string[]; since: string | null; cases_all: number; near: TrackTally; far: TrackTally; cases: TrackCase[] }

export interface Unread { line: number; column: string | number; text: string; reason?: string }
export interface Preview { kind: 'folder' | 'zip' | 'wide'; loop: SheetData | null; unread: Unread[]; outlook: Outlook | null; needs: string[] }
export interface ExpectWish { volume_l: number; start: string; temperature_c: number; seed_area_m2: number | null; alkalinity_mg_l_caco3: number | null }
