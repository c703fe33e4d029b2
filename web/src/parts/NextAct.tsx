// SPDX-License-Identifier: Apache-2.0
// The next act with its reasons, its cautions beside it, and what else is advised.
import type { Advice } from '../contract';
import { t } from '../locale/text';
import { capital } from '../words/chance';
import { formulas } from '../words/numbers';
import { Caution } from './Caution';

const reasons = (advice: Advice) => (advice.because.length ? formulas(capital(advice.because.join('; '))) + '.' : '');

export function NextAct({ advice }: { advice: Advice[] }) {
  const [first, ...others] = advice;
  if (!first) return null;
  return (
    <section class="next" aria-label={t('next.label')}>
      <div class="beside">
        <div>
          <p class={first.urgency === 'now' ? 'small danger' : 'small'}>{t(`urgency.${first.urgency}`)}</p>
          <h2 class="act">{formulas(first.text)}</h2>
          {reasons(first) && <p class="small">{reasons(first)}</p>}
        </div>
        <Caution lines={first.caution} />
      </div>
      {others.map((other) => (
        <div key={other.code} class="beside also">
          <div>
            <p class="small">{t(`urgency.${other.urgency}`)}</p>
            <p class="act">{formulas(other.text)}</p>
            {reasons(other) && <p class="small">{reasons(other)}</p>}
          </div>
          <Caution lines={other.caution} />
        </div>
      ))}
    </section>
  );
}
