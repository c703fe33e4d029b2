// SPDX-License-Identifier: Apache-2.0
// An outlook as evidence under its sentence: next act, sheet, dates, doubts, how sure. Used by the loop page, by what was
// brought along, and by a loop that has not begun.
import type { ComponentChildren } from 'preact';
import { kMilestones, type Entry, type Kit, type Outlook } from '../contract';
import { t } from '../locale/text';
import { useSettings } from '../settings';
import { Sheet } from '../sheet/Sheet';
import { dayMonth, dayNumber, kDay, ms } from '../words/dates';
import { earlierLoops, lettered, unlikeAnyLoop } from '../words/doubts';
import { milestones } from '../words/milestone';
import { fishRisk, sentence } from '../words/sentence';
import { Coming } from './Coming';
import { DoubtNotes } from './DoubtNotes';
import { HowSure } from './HowSure';
import { NextAct } from './NextAct';
import { Unlike } from './Unlike';

export interface OutlookViewProps {
  outlook: Outlook; entries: Entry[]; kits: Kit[]; zone: string; name: string; id: string | null; clock: number | null;
  under?: ComponentChildren; after?: ComponentChildren; act?: boolean; level?: 'h1' | 'h2'; children?: ComponentChildren;
}

export function nowLabel(outlook: Outlook, zone: string, clock: number | null): string {
  const now = ms(outlook.as_of)!, day = dayNumber(now, ms(outlook.started)!, zone);
  return clock === null || Math.abs(clock - now) > kDay ? t('sheet.day', { date: dayMonth(now, zone), day }) : t('sheet.now', { day });
}

export function OutlookView({ outlook, entries, kits, zone, name, id, clock, under, after, act = true, level: Heading = 'h1', children }: OutlookViewProps) {
  const [settings] = useSettings();
  const dates = milestones(outlook, kMilestones, zone);
  const doubts = lettered(outlook.doubts, entries);
  const said = sentence({ outlook, zone, kits, basis: settings.basis, clock });
  const risk = fishRisk(outlook), unlike = unlikeAnyLoop(outlook), earlier = earlierLoops(outlook);
  const story = t('sheet.story', { sentence: said, dates: dates.map((date) => `${date.label}: ${date.headline}`).join('; ') });
  return <>
    <Heading class="sentence">{risk && risk.p >= 0.3 && <span class="danger">{t('fish.at_risk')} </span>}{said}</Heading>
    {under}
    {earlier && <p class="small rests">{earlier}</p>}
    {unlike && <Unlike text={unlike} />}
    {act && <NextAct advice={outlook.advice} next={outlook.next_test} zone={zone} />}
    {after}
    <div class="desk-columns">
      <Sheet outlook={outlook} entries={entries} kits={kits} zone={zone} dates={dates} doubts={doubts.lettered} story={story}
        nowLabel={nowLabel(outlook, zone, clock)} name={name} />
      <div class="margin">
        <Coming dates={dates} />
        <DoubtNotes doubts={doubts} zone={zone} />
        <HowSure outlook={outlook} id={id} zone={zone} />
      </div>
    </div>
    {children}
  </>;
}
