// SPDX-License-Identifier: Apache-2.0
// One date of the outlook in words. "Cannot tell yet" stands in for a date whose nine-in-ten range is wider than three weeks
// or has no end, or whose chance of coming at all within the outlook lies between 30 and 70 %. For fish "it has come" needs
// nineteen courses in twenty, not half: put in too early they die.
import type { DateQuantiles, MilestoneName, Outlook } from '../contract';
import { t } from '../locale/text';
import { capital, chance } from './chance';
import { dayMonth, kDay, ms, range, soon } from './dates';

export type Kind = 'happened' | 'date' | 'cannot_tell' | 'not_in_sight';
export interface Milestone {
  name: MilestoneName;
  kind: Kind;
  label: string;
  headline: string;
  known: string;
  range: string;
  at: { p05: number | null; p25: number | null; p50: number | null; p75: number | null; p95: number | null };
  likelyBy: number | null;      // date by which three in four agree
  notBefore: number | null;     // nineteen in twenty say later; only where that is still ahead
}

const kWidestKnownDays = 21;

export function kindOf(date: DateQuantiles): Kind {
  const low = ms(date.p05), high = ms(date.p95), p = date.probability_within_days ?? 0;
  if (date.reached) return 'happened';
  if (p < 0.3) return 'not_in_sight';
  if (p <= 0.7 || low === null || high === null || high - low > kWidestKnownDays * kDay) return 'cannot_tell';
  return 'date';
}

export const horizonDays = (outlook: Outlook) =>
  Math.round((ms(outlook.series.at(-1)?.when) ?? ms(outlook.as_of)!) / kDay - ms(outlook.as_of)! / kDay);

export function milestone(name: MilestoneName, outlook: Outlook, zone: string): Milestone | null {
  const date = outlook.milestones[name];
  if (!date || date.applies === false) return null;
  const now = ms(outlook.as_of)!;
  const at = { p05: ms(date.p05), p25: ms(date.p25), p50: ms(date.p50), p75: ms(date.p75), p95: ms(date.p95) };
  const sureOfFish = at.p95 !== null && at.p95 <= now;
  const kind = name === 'ready_for_fish' && date.reached && !sureOfFish ? 'cannot_tell' : kindOf(date);
  const days = horizonDays(outlook);
  const within = chance(date.probability_within_days ?? 0);
  const notBefore = at.p05 !== null && at.p05 > now ? at.p05 : null;
  const threeInFour = chance(0.75);
  const span = at.p05 !== null && at.p95 !== null ? range(at.p05, at.p95, zone)
    : at.p05 !== null ? t('date.from_open', { date: dayMonth(at.p05, zone) }) : '';
  const base = { name, kind, label: t(`milestone.${name}`), at, likelyBy: at.p75, notBefore, range: span };

  if (kind === 'happened') {
    // Reached means at least half of the courses have it behind them; the quantiles say how many more.
    const sure = chance(at.p95 !== null && at.p95 <= now ? 0.95 : at.p75 !== null && at.p75 <= now ? 0.75 : 0.5);
    return { ...base, headline: at.p50 !== null ? soon(at.p50, now, zone) : '',
      known: t('milestone.happened', { word: sure.word, number: sure.number }) };
  }
  if (kind === 'date') {
    return { ...base, headline: soon(at.p50!, now, zone),
      known: t('milestone.likely_by', { word: threeInFour.word, number: threeInFour.number, date: dayMonth(at.p75!, zone) }) };
  }
  if (kind === 'not_in_sight') {
    return { ...base, range: '', headline: t('milestone.not_in_sight'),
      known: t('milestone.within', { word: within.word, number: within.number, days }) };
  }
  const facts = [];
  if (date.reached) facts.push(t('milestone.perhaps_already'));
  if (notBefore !== null) facts.push(t('milestone.not_before', { date: dayMonth(notBefore, zone) }));
  if (at.p75 !== null && at.p75 > now) facts.push(t('milestone.likely_by', { word: threeInFour.word, number: threeInFour.number, date: dayMonth(at.p75, zone) }));
  else if (at.p75 === null) facts.push(t('milestone.within', { word: within.word, number: within.number, days }));
  facts.push(t(`milestone.tells.${name}`));
  return { ...base, range: '', headline: t('milestone.cannot_tell'), known: capital(facts.join('; ')) + '.' };
}

export function milestones(outlook: Outlook, names: readonly MilestoneName[], zone: string): Milestone[] {
  return names.flatMap((name) => milestone(name, outlook, zone) ?? []);
}
