// SPDX-License-Identifier: Apache-2.0
// The next act with its reasons, its cautions beside it, and what else is advised.
import type { Advice, NextTest } from '../contract';
import { t } from '../locale/text';
import { capital } from '../words/chance';
import { formulas } from '../words/numbers';
import { Caution } from './Caution';
import { NextTestWhy } from './NextTestWhy';

const reasons = (advice: Advice) => (advice.because.length ? formulas(capital(advice.because.join('; '))) + '.' : '');

// The line on the next test is one of the advices; where it stands its reasons can be unfolded.
export function NextAct({ advice, next, zone }: { advice: Advice[]; next?: NextTest | null; zone: string }) {
  const alone = next && !advice.some(({ text }) => text === next.text);
  const all: Advice[] = alone ? [...advice, { code: 'test', urgency: 'note', text: next.text, because: next.because ? [next.because] : [], caution: [] }] : advice;
  if (all.length === 0) return null;
  return (
    <section class="next" aria-label={t('next.label')}>
      {all.map((each, k) => {
        const Act = k === 0 ? 'h2' : 'p';
        return (
          <div key={each.code} class={k === 0 ? 'beside' : 'beside also'}>
            <div>
              <p class={k === 0 && each.urgency === 'now' ? 'small danger' : 'small'}>{t(`urgency.${each.urgency}`)}</p>
              <Act class="act">{formulas(each.text)}</Act>
              {next && each.text === next.text && next.tests.length > 0 ? <NextTestWhy next={next} reason={reasons(each)} zone={zone} />
                : reasons(each) && <p class="small">{reasons(each)}</p>}
            </div>
            <Caution lines={each.caution} />
          </div>
        );
      })}
    </section>
  );
}
