// SPDX-License-Identifier: Apache-2.0
// What was filled in about the fish, the question made of it, and where a refusal belongs.
import type { FishWish } from '../contract';
import { t } from '../locale/text';

export interface FishForm { count: string; weight: string; species: string; feed: string; per: 'percent' | 'grams' }
export type FishField = 'count' | 'weight' | 'species' | 'feed';
export const kEmptyForm: FishForm = { count: '', weight: '', species: '', feed: '', per: 'percent' };

// Suggestions only: any other name may be given. The names of data/handbook/fish.toml; a test compares them.
export const kFishNames = ['tilapia', 'common carp', 'channel catfish', 'african catfish', 'barramundi', 'silver perch', 'jade perch', 'murray cod', 'goldfish', 'rainbow trout'];

// Ranges are the server's to judge; here only what is no number at all is caught.
export function wishOf(form: FishForm): { wish: FishWish } | { field: FishField; problem: string } {
  const numbers: Partial<Record<FishField, number | null>> = {};
  for (const field of ['count', 'weight', 'feed'] as const) {
    const text = form[field].trim().replace(',', '.');
    const value = text === '' ? null : Number(text);
    if (value !== null && !Number.isFinite(value)) return { field, problem: t('fish_plan.no_number', { text: form[field].trim() }) };
    numbers[field] = value;
  }
  return {
    wish: {
      count: numbers.count ?? null, weight_g: numbers.weight ?? null, species: form.species.trim() || null,
      feed_percent: form.per === 'percent' ? numbers.feed ?? null : null, feed_g_per_day: form.per === 'grams' ? numbers.feed ?? null : null,
    },
  };
}

const kFields: Record<string, FishField> = { count: 'count', weight_g: 'weight', species: 'species', feed_percent: 'feed', feed_g_per_day: 'feed' };
export const fieldOf = (named: string | null): FishField | null => (named === null ? null : kFields[named] ?? null);

const keyOf = (id: string) => `helmwater.fish.${id}`;
// Kept until the window is closed.
export function remembered(id: string): FishForm {
  try {
    const kept = JSON.parse(sessionStorage.getItem(keyOf(id)) ?? '{}') as Record<string, unknown>;
    const text = (name: string) => (typeof kept[name] === 'string' ? kept[name] as string : '');
    return { count: text('count'), weight: text('weight'), species: text('species'), feed: text('feed'), per: kept['per'] === 'grams' ? 'grams' : 'percent' };
  } catch { return kEmptyForm; }
}
export function remember(id: string, form: FishForm) {
  try { sessionStorage.setItem(keyOf(id), JSON.stringify(form)); } catch { /* a private window may refuse: it is typed again */ }
}
