// SPDX-License-Identifier: Apache-2.0
// The dates in words, each with its range or with what is known instead.
import { t } from '../locale/text';
import type { Milestone } from '../words/milestone';

export function Coming({ dates }: { dates: Milestone[] }) {
  return (
    <section>
      <h2 class="section">{t('coming.head')}</h2>
      <dl class="coming">
        {dates.map((date) => (
          <div key={date.name}>
            <dt>{date.label}</dt>
            <dd class={date.kind === 'cannot_tell' || date.kind === 'not_in_sight' ? 'when remark' : 'when'}>{date.headline}</dd>
            <dd class={date.range ? 'small known' : 'small known alone'}>{date.known}</dd>
            {date.range && <dd class="small span">{date.range}</dd>}
          </div>
        ))}
      </dl>
      <p class="small">{t('coming.ranges')}</p>
    </section>
  );
}
