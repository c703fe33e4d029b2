// SPDX-License-Identifier: Apache-2.0
// How earlier outlooks did: each later reading where it fell in the range given for it, of one loop or of all. Worked out when asked for.
import { useState } from 'preact/hooks';
import { trackRecord } from '../api';
import type { Track, TrackCase } from '../contract';
import { t, type TextKey } from '../locale/text';
import { dateTime } from '../words/dates';
import { amount } from '../words/numbers';
import { isOutside, tooSure, trackRows } from '../words/track';
import { ErrorNote } from './ErrorNote';
import { Progress } from './Progress';
import { useAnswer } from './useAnswer';

// A little inside the ends, so that a ring at the very end is whole.
const x = (rank: number) => `${(2 + 96 * Math.min(1, Math.max(0, rank))).toFixed(2)}%`;
const width = (from: number, to: number) => `${(96 * (to - from)).toFixed(2)}%`;

function Rank({ one }: { one: TrackCase }) {
  return isOutside(one.rank) ? <circle class="outside" cx={x(one.rank)} cy="11" r="4" /> : <line class="inside" x1={x(one.rank)} x2={x(one.rank)} y1="3" y2="19" />;
}

const bound = (value: number | null) => (value === null ? t('track.open') : amount(value));

export function TrackAnswer({ track, zone, several }: { track: Track; zone: string; several: boolean }) {
  if (track.cases_all === 0) return <p>{track.text || t('track.none')}</p>;
  const rows = trackRows(track);
  const columns = [...(several ? ['loop'] : []), 'read_at', 'test', 'read', 'range', 'where'] as const;
  return <>
    <p>{track.text}</p>
    {tooSure(track) && <p class="strong">{t('track.too_sure')}</p>}
    <figure class="ranks" aria-label={t('track.figure')}>
      {rows.map(({ test, cases, inside }) => (
        <div key={test} class={`rank-row t-${test}`}>
          <p class="name">{t(`test.${test}`)}</p>
          <svg role="img" aria-label={t('track.row', { test: t(`test.${test}`), inside, count: cases.length })} width="100%" height="22">
            <rect class="band wide" x={x(0.05)} y="1" width={width(0.05, 0.95)} height="20" />
            <rect class="band half" x={x(0.25)} y="1" width={width(0.25, 0.75)} height="20" />
            <line class="axis" x1={x(0)} x2={x(1)} y1="21" y2="21" />
            {cases.map((one, k) => <Rank key={k} one={one} />)}
          </svg>
          <p class="count">{t('track.of', { inside, count: cases.length })}</p>
        </div>
      ))}
      <p class="rank-ends small"><span>{t('track.lower')}</span><span>{t('track.higher')}</span></p>
    </figure>
    <p class="small">{t('track.legend')}{track.cases_all > track.cases.length && ` ${t('track.latest', { count: track.cases.length, all: track.cases_all })}`}</p>
    <details class="as-table">
      <summary>{t('track.table')}</summary>
      <div class="scroll" tabIndex={0} role="region" aria-label={t('track.table')}>
        <table>
          <thead><tr>{columns.map((name) => <th key={name} scope="col">{t(`track.column.${name}` as TextKey)}</th>)}</tr></thead>
          <tbody>{track.cases.map((one, k) => (
            <tr key={k}>
              {several && <td>{one.loop}</td>}
              <th scope="row">{dateTime(Date.parse(one.when), zone)}</th><td>{t(`test.${one.test}` as TextKey)}</td><td>{one.value}</td>
              <td>{t('track.range', { low: bound(one.p05), high: bound(one.p95), date: dateTime(Date.parse(one.as_of), zone) })}</td>
              <td>{t(one.rank < 0.05 ? 'track.below' : one.rank > 0.95 ? 'track.above' : one.rank < 0.25 || one.rank > 0.75 ? 'track.in_90' : 'track.in_50')}</td>
            </tr>
          ))}</tbody>
        </table>
      </div>
    </details>
  </>;
}

export function TrackRecord({ id, zone, head }: { id: string | null; zone: string; head?: string }) {
  const [asked, ask] = useState(false);
  const answer = useAnswer(asked ? `track ${id ?? ''}` : null, (signal) => trackRecord(id, signal));
  const working = t(id === null ? 'track.working_all' : 'track.working');
  return <>
    {head && <h3 class={asked ? 'sub' : 'sub on-screen'}>{head}</h3>}
    {!asked && <button type="button" class="on-screen" onClick={() => ask(true)}>{t(id === null ? 'track.ask_all' : 'track.ask')}</button>}
    {asked && answer.waiting && answer.slow && <Progress text={working} usualMs={id === null ? 12_000 : 5000} />}
    {answer.error && <ErrorNote error={answer.error} again={answer.again} />}
    <div role="status">{answer.value && <TrackAnswer track={answer.value} zone={zone} several={id === null} />}</div>
  </>;
}
