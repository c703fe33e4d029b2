// SPDX-License-Identifier: Apache-2.0
// What one test would read under each of two causes: a thin line for 8 readings in 10, a slit block at the middle.
import type { TellingTest, Why } from '../contract';
import { t } from '../locale/text';
import { useSettings } from '../settings';
import { temperature } from '../units';
import { amount, formulas } from '../words/numbers';

export function TellingBeams({ test, why }: { test: TellingTest; why: Why }) {
  const [{ measures }] = useSettings();
  const warm = test.test === 'temperature';
  const shown = (value: number) => (warm ? temperature(value, measures).value : value);
  const unit = warm ? temperature(0, measures).unit : formulas(test.unit ?? '');
  const ends = test.expected.flatMap(({ p10, p90 }) => [shown(p10), shown(p90)]);
  const high = Math.max(...ends), low = warm || test.test === 'ph' ? Math.min(...ends) : 0, span = high - low || 1;
  const from = low - (low === 0 ? 0 : 0.06 * span), x = (value: number) => `${(1 + (94 * (shown(value) - from)) / (high - from || 1)).toFixed(2)}%`;
  return (
    <dl class="beams">
      {test.expected.map(({ cause, p10, p50, p90 }) => (
        <div key={cause}>
          <dt>{t('why.reads_if', { cause: why.explanations.find((each) => each.cause === cause)?.title ?? cause })}</dt>
          <dd>{t('why.reads', { low: amount(shown(p10)), high: amount(shown(p90)), unit }).trim()} <span class="small">{t('why.reads_middle', { middle: amount(shown(p50)) })}</span></dd>
          <dd class="beam">
            <svg aria-hidden="true" width="100%" height="18" class={test.test ? `t-${test.test}` : ''}>
              <line class="floor" x1="0" x2="100%" y1="17" y2="17" />
              <line class="reach" x1={x(p10)} x2={x(p90)} y1="8" y2="8" />
              {[p10, p90].map((end, k) => <line key={k} class="reach" x1={x(end)} x2={x(end)} y1="3" y2="13" />)}
              <circle class="middle-dot" cx={x(p50)} cy="8" r="4" />
            </svg>
          </dd>
        </div>
      ))}
    </dl>
  );
}
