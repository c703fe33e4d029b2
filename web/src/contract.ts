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

export interface Outlook {
  loop: string; as_of: string; started: string; readings_used: number; members: number; effective_members: number;
  seed: number; engine: string; plan: Plan;
  now: Record<Test | 'free_ammonia' | 'ammonia_capacity' | 'nitrite_capacity', Quantiles & { unit: string | null; basis: string | null }>;
  stage: { name: StageName; since: string | null; probability: number };
  milestones: Record<MilestoneName, DateQuantiles>;
  risk: Risk;
  series: Moment[];
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
export interface Hindcast {
  loop: string;
  cases: { as_of: string; reading: { when: string; what: string; value: string; low: number | null; high: number | null };
    predicted: Quantiles; probability: number; lead_days: number }[];
  scores: { n: number; coverage_50: number | null; coverage_90: number | null; mean_log_score: number | null };
}
export interface Unread { line: number; column: string | number; text: string; reason?: string }
export interface Preview { kind: 'folder' | 'zip' | 'wide'; loop: SheetData | null; unread: Unread[]; outlook: Outlook | null; needs: string[] }
export interface ExpectWish { volume_l: number; start: string; temperature_c: number; seed_area_m2: number | null; alkalinity_mg_l_caco3: number | null }
