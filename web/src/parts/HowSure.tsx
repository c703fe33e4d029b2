// SPDX-License-Identifier: Apache-2.0
// What the outlook rests on, and how earlier outlooks of this loop did; the look back is only worked out when asked for.
import { useState } from 'preact/hooks';
import { loopHindcast } from '../api';
import type { Hindcast, Outlook } from '../contract';
import { t, type TextKey } from '../locale/text';
import { dateTime } from '../words/dates';
import { amount, grouped } from '../words/numbers';
import { chance } from '../words/chance';
import { ErrorNote } from './ErrorNote';
import { Progress } from './Progress';
import { useAnswer } from './useAnswer';

// A reading is met when its interval and the nine-in-ten range of the outlook share a value.
export const met = (one: Hindcast['cases'][number]) =>
  (one.reading.low ?? -Infinity) <= one.predicted.p95 && (one.reading.high ?? Infinity) >= one.predicted.p05;

export function LookBack({ hindcast, zone }: { hindcast: Hindcast; zone: string }) {
  const { n, coverage_90, coverage_50 } = hindcast.scores;
  if (n === 0 || coverage_90 === null) return <p>{t('look_back.none')}</p>;
  const wide = 8, perRow = 36, rows = Math.ceil(hindcast.cases.length / perRow);
  return <>
    <p>{t('look_back.share', { inside: Math.round(coverage_90 * n), count: n, half: Math.round((coverage_50 ?? 0) * n) })}</p>
    {coverage_90 < 0.8 && <p>{t('look_back.too_sure')}</p>}
    <svg class="strip" role="img" aria-label={t('look_back.strip', { met: hindcast.cases.filter(met).length, count: hindcast.cases.length })}
      viewBox={`0 0 ${perRow * wide} ${rows * 16}`} width={perRow * wide} height={rows * 16}>
      {hindcast.cases.map((one, k) => {
        const x = (k % perRow) * wide + 4, y = Math.floor(k / perRow) * 16;
        return met(one) ? <line key={k} class="inside" x1={x} x2={x} y1={y + 2} y2={y + 13} /> : <circle key={k} class="outside" cx={x} cy={y + 7.5} r={2.8} />;
      })}
    </svg>
    <p class="small">{t('look_back.legend')}</p>
    <details class="as-table">
      <summary>{t('look_back.table')}</summary>
      <div class="scroll" tabIndex={0} role="region" aria-label={t('look_back.table')}>
        <table>
          <thead><tr>{(['asked', 'read_at', 'what', 'read', 'expected', 'chance'] as const).map((name) => <th key={name} scope="col">{t(`look_back.${name}`)}</th>)}</tr></thead>
          <tbody>
            {hindcast.cases.map((one, k) => (
              <tr key={k}>
                <th scope="row">{dateTime(Date.parse(one.as_of), zone)}</th><td>{dateTime(Date.parse(one.reading.when), zone)}</td>
                <td>{t(`test.${one.reading.what}` as TextKey)}</td><td>{one.reading.value}</td>
                <td>{t('look_back.range', { low: amount(one.predicted.p05), high: amount(one.predicted.p95) })}</td>
                <td>{t('look_back.number', { number: chance(one.probability).number })}</td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
    </details>
  </>;
}

export function HowSure({ outlook, id, zone }: { outlook: Outlook; id: string | null; zone: string }) {
  const [asked, ask] = useState(false);
  const answer = useAnswer(asked && id ? id : null, (signal) => loopHindcast(id!, signal));
  const share = outlook.effective_members / outlook.members;
  return (
    <section>
      <h2 class="section">{t('sure.head')}</h2>
      {outlook.readings_used === 0 ? <p>{t('sure.prior')}</p> : <>
        <p>{t('sure.readings', { count: outlook.readings_used })}</p>
        <p class="small">{t(share < 0.05 ? 'sure.members_thin' : 'sure.members', { effective: grouped(outlook.effective_members), members: grouped(outlook.members) })}</p>
      </>}
      {id && outlook.readings_used > 0 && <>
        <h3 class={asked ? 'sub' : 'sub on-screen'}>{t('look_back.head')}</h3>
        {!asked && <button type="button" class="on-screen" onClick={() => ask(true)}>{t('look_back.ask')}</button>}
        {answer.slow && <Progress text={t('look_back.working')} usualMs={8000} />}
        {answer.error && <ErrorNote error={answer.error} again={answer.again} />}
        <div role="status">{answer.value && <LookBack hindcast={answer.value} zone={zone} />}</div>
      </>}
    </section>
  );
}
