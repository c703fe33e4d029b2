// SPDX-License-Identifier: Apache-2.0
// What the outlook rests on, and how earlier outlooks of this loop did.
import type { Outlook } from '../contract';
import { t } from '../locale/text';
import { grouped } from '../words/numbers';
import { TrackRecord } from './TrackRecord';

export function HowSure({ outlook, id, zone }: { outlook: Outlook; id: string | null; zone: string }) {
  const share = outlook.effective_members / outlook.members;
  return (
    <section>
      <h2 class="section">{t('sure.head')}</h2>
      {outlook.readings_used === 0 ? <p>{t('sure.prior')}</p> : <>
        <p>{t('sure.readings', { count: outlook.readings_used })}</p>
        <p class="small">{t(share < 0.05 ? 'sure.members_thin' : 'sure.members', { effective: grouped(outlook.effective_members), members: grouped(outlook.members) })}</p>
      </>}
      {id && outlook.readings_used > 0 && <>
        <TrackRecord id={id} zone={zone} head={t('track.head')} />
      </>}
    </section>
  );
}
