// SPDX-License-Identifier: Apache-2.0
// Who needs a look: which group a loop belongs to, in what order, and how its silence is told.
import type { Advice, LoopLine, Outlook, SheetData } from '../contract';
import { t } from '../locale/text';
import { clock as clockOf, dayNumber, kDay, ms } from './dates';
import { fishRisk } from './sentence';

export type Group = 'today' | 'this_week' | 'well' | 'pending' | 'unreadable';
export const kGroups: readonly Group[] = ['today', 'this_week', 'well', 'pending', 'unreadable'];
export interface BoardLoop { line: LoopLine; sheet: SheetData | null; outlook: Outlook | null; error: string | null }

// Water that is still turning should not go two days without a word.
const kDelicateSilenceDays = 2;

export const silentDays = (line: LoopLine, now: number) => (line.last_entry ? Math.max(0, (now - ms(line.last_entry)!) / kDay) : 0);

export function groupOf(loop: BoardLoop, now: number): Group {
  if (loop.line.error || loop.error) return 'unreadable';
  if (!loop.outlook) return 'pending';
  const urgency = loop.outlook.advice[0]?.urgency ?? 'note';
  const risk = fishRisk(loop.outlook);
  if (urgency === 'now' || urgency === 'today' || (risk && risk.p >= 0.1)) return 'today';
  if (loop.outlook.stage.name !== 'running' && silentDays(loop.line, now) > kDelicateSilenceDays) return 'today';
  return urgency === 'this_week' ? 'this_week' : 'well';
}

const kUrgency = { now: 3, today: 2, this_week: 1, note: 0 };
export function weight(loop: BoardLoop, now: number): number {
  if (!loop.outlook) return 0;
  const risk = fishRisk(loop.outlook)?.p ?? 0;
  return 100 * risk + 10 * kUrgency[loop.outlook.advice[0]?.urgency ?? 'note'] + Math.min(9, silentDays(loop.line, now) / 3);
}

export function silence(line: LoopLine, zone: string, now: number): string {
  if (!line.last_entry) return t('board.no_entry');
  const last = ms(line.last_entry)!, days = dayNumber(now, last, zone);
  if (days <= 0) return t('board.today', { clock: clockOf(last, zone) });
  return days === 1 ? t('board.yesterday') : t('board.silent', { count: days });
}

// The next act in the list of loops. An amount is shown only where its cautions stand beside it, on the loop's own page:
// here an act with cautions ends before its amount.
export function actOnBoard(advice: Advice | undefined): string {
  if (!advice) return '';
  if (advice.caution.length === 0) return advice.text;
  const colon = advice.text.indexOf(': ');
  return colon < 0 ? advice.text : t('board.act_inside', { act: advice.text.slice(0, colon) });
}
