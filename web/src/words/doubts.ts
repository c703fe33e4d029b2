// SPDX-License-Identifier: Apache-2.0
// Doubts by letter: one letter an entry, in the order of time, the same on the sheet and in the margin.
import type { Doubt, Entry, Outlook } from '../contract';

// What seems to have been done and not logged, asked beside the reading that shows it.
export type Unlogged = 'unlogged_addition' | 'unlogged_water_change';
export interface LetteredDoubt { letter: string; entry: Entry; texts: string[]; asks: Unlogged | null }
export interface Doubts { lettered: LetteredDoubt[]; general: string[] }

export const letter = (index: number): string => {
  const last = String.fromCharCode(97 + (index % 26));
  return index < 26 ? last : letter(Math.floor(index / 26) - 1) + last;
};

// "…seems to have come in. Was ammonia given?": the question, and what it rests on.
export function questionFirst(text: string): { question: string; ground: string } | null {
  const found = /^(.*[.!)])\s+([^.?!]+\?)$/s.exec(text);
  return found && { question: found[2]!, ground: found[1]! };
}

// The loop as a whole: told above everything else, not among the notes.
const kToldAbove = 'unlike_any_loop';
export const unlikeAnyLoop = (outlook: Outlook): string | null =>
  (outlook.conflict?.said ? outlook.conflict.text : null) ?? outlook.doubts.find(({ code }) => code === kToldAbove)?.text ?? null;
export const earlierLoops = (outlook: Outlook): string | null => (outlook.history && outlook.history.loops > 0 ? outlook.history.text : null);

export function lettered(doubts: Doubt[], entries: Entry[]): Doubts {
  const byLine = new Map(entries.map((entry) => [entry.line, entry]));
  const texts = new Map<number, string[]>();
  const general: string[] = [];
  const asks = new Map<number, Unlogged>();
  for (const doubt of doubts) {
    if (doubt.code === kToldAbove) continue;
    if (doubt.entry !== null && (doubt.code === 'unlogged_addition' || doubt.code === 'unlogged_water_change')) asks.set(doubt.entry, doubt.code);
    const list = doubt.entry !== null && byLine.has(doubt.entry) ? texts.get(doubt.entry) ?? [] : general;
    if (!list.includes(doubt.text)) list.push(doubt.text);
    if (list !== general) texts.set(doubt.entry!, list);
  }
  const order = [...texts.keys()].sort((a, b) => (byLine.get(a)!.when ?? '').localeCompare(byLine.get(b)!.when ?? '') || a - b);
  return { lettered: order.map((line, k) => ({ letter: letter(k), entry: byLine.get(line)!, texts: texts.get(line)!, asks: asks.get(line) ?? null })), general };
}
