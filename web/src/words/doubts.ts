// SPDX-License-Identifier: Apache-2.0
// Doubts by letter: one letter an entry, in the order of time, the same on the sheet and in the margin.
import type { Doubt, Entry } from '../contract';

export interface LetteredDoubt { letter: string; entry: Entry; texts: string[] }
export interface Doubts { lettered: LetteredDoubt[]; general: string[] }

export const letter = (index: number): string => {
  const last = String.fromCharCode(97 + (index % 26));
  return index < 26 ? last : letter(Math.floor(index / 26) - 1) + last;
};

export function lettered(doubts: Doubt[], entries: Entry[]): Doubts {
  const byLine = new Map(entries.map((entry) => [entry.line, entry]));
  const texts = new Map<number, string[]>();
  const general: string[] = [];
  for (const doubt of doubts) {
    const list = doubt.entry !== null && byLine.has(doubt.entry) ? texts.get(doubt.entry) ?? [] : general;
    if (!list.includes(doubt.text)) list.push(doubt.text);
    if (list !== general) texts.set(doubt.entry!, list);
  }
  const order = [...texts.keys()].sort((a, b) => (byLine.get(a)!.when ?? '').localeCompare(byLine.get(b)!.when ?? '') || a - b);
  return { lettered: order.map((line, k) => ({ letter: letter(k), entry: byLine.get(line)!, texts: texts.get(line)! })), general };
}
