// SPDX-License-Identifier: Apache-2.0
// Sentences come whole from the catalogue; slots are named, so that another language may order them otherwise.
import en from './en.json';

export type TextKey = keyof typeof en;

export function fill(sentence: string, slots: Record<string, string | number> = {}): string {
  return sentence.replace(/\{(\w+)\}/g, (whole, name: string) => (name in slots ? String(slots[name]) : whole));
}

export const t = (key: TextKey, slots?: Record<string, string | number>): string => fill(en[key], slots);
export const has = (key: string): key is TextKey => key in en;
