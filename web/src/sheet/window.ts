// SPDX-License-Identifier: Apache-2.0
// Which days a sheet shows.
import type { Outlook } from '../contract';
import { kDay, ms, startOfDay } from '../words/dates';
import type { SheetWindow } from './panels';

export type WindowChoice = 'usual' | 'close' | 'whole';
export const kWindows: readonly WindowChoice[] = ['usual', 'close', 'whole'];

export function windowOf(choice: WindowChoice, outlook: Outlook, zone: string): SheetWindow {
  const now = ms(outlook.as_of)!, first = ms(outlook.series[0]?.when) ?? now, last = ms(outlook.series.at(-1)?.when) ?? now;
  if (outlook.readings_used === 0 && choice === 'usual') choice = 'whole';
  const running = outlook.stage.name === 'running';
  const behind = choice === 'whole' ? Infinity : choice === 'close' ? 7 : running ? 28 : 60;
  const ahead = choice === 'whole' ? Infinity : choice === 'close' ? 7 : 30;
  const from = startOfDay(Math.max(first, now - behind * kDay), zone);
  return { from, to: Math.max(from + 3 * kDay, Math.min(last, now + ahead * kDay)) };
}
