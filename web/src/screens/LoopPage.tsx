// SPDX-License-Identifier: Apache-2.0
// One loop's outlook.
import { loopOutlook, loopSheet } from '../api';
import { t } from '../locale/text';
import { ErrorNote } from '../parts/ErrorNote';
import { FishPlan } from '../parts/FishPlan';
import { Frame } from '../parts/Frame';
import { OutlookView } from '../parts/OutlookView';
import { Progress } from '../parts/Progress';
import { WhatIf } from '../parts/WhatIf';
import { WhyStuck } from '../parts/WhyStuck';
import { PrintFoot } from '../parts/PrintFoot';
import { useAnswer } from '../parts/useAnswer';
import { Link } from '../route';
import { dateTime, dayNumber, kDay, ms } from '../words/dates';
import { isStale } from '../words/sentence';
import { looksStuck } from '../words/stuck';

export function LoopPage({ id }: { id: string }) {
  const sheet = useAnswer(id, (signal) => loopSheet(id, signal));
  const outlook = useAnswer(id, (signal) => loopOutlook(id, signal));
  const clock = Date.now();
  const name = sheet.value?.loop.name ?? outlook.value?.loop ?? id;
  const zone = sheet.value?.loop.time_zone ?? 'UTC';
  const error = sheet.error ?? outlook.error;
  const day = outlook.value ? t('head.day', { day: dayNumber(ms(outlook.value.as_of)!, ms(outlook.value.started)!, zone) }) : '';
  const under = outlook.value && (
    <p class="small rests">
      {outlook.value.readings_used === 0 ? t('rests.prior') : t('rests.readings', { count: outlook.value.readings_used, date: dateTime(ms(outlook.value.as_of)!, zone) })}
      {isStale(outlook.value, clock) && ` ${t('rests.silent', { count: Math.floor((clock - ms(outlook.value.as_of)!) / kDay) })}`}
    </p>
  );
  const stuck = outlook.value !== null && looksStuck(outlook.value), withFish = outlook.value?.risk.applies ?? false;
  const why = outlook.value && outlook.value.readings_used > 0 && <WhyStuck id={id} outlook={outlook.value} />;
  const places = outlook.value && (
    <nav class="places on-screen" aria-label={t('loop.places')}>
      <a class="textlink" href="#fish">{t(withFish ? 'fish_plan.head_fish' : 'fish_plan.head')}</a>
      {why && !stuck && <a class="textlink" href="#why">{t('why.head')}</a>}
      <a class="textlink" href="#what-if">{t('what_if.head')}</a>
    </nav>
  );
  return (
    <Frame place="loop" name={name} day={day} title={name}>
      {error && <>
        <h1 class="sentence">{t(error.status === 404 ? 'loop.unknown' : 'loop.failed', { id })}</h1>
        <ErrorNote error={error} again={() => { sheet.again(); outlook.again(); }} />
        <p><Link to="/">{t('nav.board')}</Link></p>
      </>}
      {!error && !(sheet.value && outlook.value) && <>
        <h1 class="sentence waiting">{t('loop.waiting', { name })}</h1>
        {(sheet.slow || outlook.slow) && <Progress text={t('loop.working')} usualMs={1500} />}
      </>}
      {!error && sheet.value && outlook.value && (
        <OutlookView outlook={outlook.value} entries={sheet.value.entries} kits={sheet.value.loop.kits} zone={zone} name={name} id={id} clock={clock} under={under}
          after={<>{stuck && why}{places}</>}>
          <FishPlan id={id} zone={zone} withFish={withFish} />
          {!stuck && why}
          <WhatIf id={id} outlook={outlook.value} entries={sheet.value.entries} kits={sheet.value.loop.kits} zone={zone} name={name} clock={clock}
            usualCelsius={sheet.value.loop.typical_temperature_c ?? 22} />
          <p class="on-screen row"><button type="button" onClick={() => window.print()}>{t('loop.print')}</button></p>
          <PrintFoot loop={sheet.value.loop} outlook={outlook.value} />
        </OutlookView>
      )}
    </Frame>
  );
}
