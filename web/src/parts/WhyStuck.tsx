// SPDX-License-Identifier: Apache-2.0
// Why a loop does not move: worked out when asked for, given up when the page is left or the asking is.
import { useState } from 'preact/hooks';
import { loopWhy } from '../api';
import type { Explanation, Outlook, Why } from '../contract';
import { t, type TextKey } from '../locale/text';
import { capital, chance } from '../words/chance';
import { formulas } from '../words/numbers';
import { causes, looksStuck } from '../words/stuck';
import { Caution } from './Caution';
import { ChanceBar } from './ChanceBar';
import { ErrorNote } from './ErrorNote';
import { Progress } from './Progress';
import { TellingBeams } from './TellingBeams';
import { useAnswer } from './useAnswer';

// Below this the server's own document calls the probabilities rough.
const kRough = 100;

function Cause({ cause, open, said }: { cause: Explanation; open: boolean; said: boolean }) {
  const { word, number } = chance(cause.probability);
  return (
    <li class="cause">
      <p class="cause-head"><span class="strong">{cause.title}</span> <span>{t('why.chance', { word, number })}</span></p>
      <ChanceBar p={cause.probability} />
      {!said && <p>{formulas(cause.text)}</p>}
      {cause.because.map((fact) => <p key={fact} class="small">{capital(formulas(fact))}.</p>)}
      <details open={open}>
        <summary>{t('why.what_to_do')}</summary>
        <div class="beside">
          <div>
            <p class="small">{t('why.look')}</p><p>{formulas(cause.look)}</p>
            <p class="small gap">{t('why.remedy')}</p><p>{formulas(cause.remedy)}</p>
            <p class="small gap">{t(`confidence.${cause.confidence}`)}</p>
          </div>
          <Caution lines={cause.caution} />
        </div>
      </details>
    </li>
  );
}

export function WhyAnswer({ why }: { why: Why }) {
  const { shown, rest } = causes(why);
  const untold = why.verdict === 'cannot_tell';
  return <>
    <p class="sentence small-sentence" role="status">{untold && <span class="remark">{t('why.cannot_tell')} </span>}{formulas(why.text)}</p>
    <div class="beside why-answer">
      {why.next_test && (
        <div class="telling">
          <h3 class="sub">{t('why.test')}</h3>
          <p>{formulas(why.next_test.text)}</p>
          {why.next_test.test !== null && <>
            <TellingBeams test={why.next_test} why={why} />
            <p class="small">{t(why.next_test.in_days > 0 ? 'why.beams_later' : 'why.beams', { days: why.next_test.in_days })}</p>
          </>}
        </div>
      )}
      <div class="ranked">
        <h3 class="sub">{t('why.causes')}</h3>
        <ol class="causes">{shown.map((cause, k) => <Cause key={cause.cause} cause={cause} open={k === 0 && !untold} said={why.text.includes(cause.text)} />)}</ol>
        {rest.length > 0 && <p class="small">{t('why.rest', { list: rest.map(({ title }) => title).join('; ') })}</p>}
        {why.set_aside.length > 0 && <p class="small">{t('why.set_aside', { list: why.set_aside.map(({ cause, because }) => t('why.set_aside_one', { cause: t(`cause.${cause}` as TextKey), because })).join('; ') })}</p>}
        {why.effective_members < kRough && <p class="small">{t('why.rough')}</p>}
      </div>
    </div>
  </>;
}

export function WhyStuck({ id, outlook }: { id: string; outlook: Outlook }) {
  const [asked, ask] = useState(false);
  const answer = useAnswer(asked ? id : null, (signal) => loopWhy(id, signal));
  const stuck = looksStuck(outlook);
  return (
    <section class="why on-screen" id="why" tabIndex={-1} aria-labelledby="why-head">
      <h2 class="section" id="why-head">{t('why.head')}</h2>
      {!answer.value && <p class={stuck ? '' : 'small'}>{t(stuck ? 'why.flat' : 'why.explain')}</p>}
      {!asked && !answer.value && <p class="row"><button type="button" class={stuck ? 'filled' : ''} onClick={() => ask(true)}>{t('why.ask')}</button></p>}
      {asked && answer.waiting && <>
        {answer.slow && <Progress text={t('why.working')} usualMs={4000} />}
        <p><button type="button" onClick={() => ask(false)}>{t('why.leave')}</button></p>
      </>}
      {asked && answer.error && <ErrorNote error={answer.error} again={answer.again} />}
      {answer.value && <WhyAnswer why={answer.value} />}
    </section>
  );
}
