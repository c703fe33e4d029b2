// SPDX-License-Identifier: Apache-2.0
// Why this test: what each would save and what it costs, unfolded under the line that names it.
import type { NextTest, TestWorth } from '../contract';
import { t } from '../locale/text';
import { ms, weekdayDate } from '../words/dates';
import { gainsOf } from '../words/nextTest';
import { amount, formulas } from '../words/numbers';

export function testNames({ tests, after_challenge }: Pick<TestWorth, 'tests' | 'after_challenge'>): string {
  const [first, second] = tests.map((test) => t(`test.${test}`));
  const names = second ? t('next_test.two', { first: first!, second: second.toLowerCase() }) : first ?? '';
  return after_challenge ? t('next_test.after_dose', { tests: names.toLowerCase() }) : names;
}

export function NextTestWhy({ next, reason, zone }: { next: NextTest; reason: string; zone: string }) {
  const { times, rows, changes } = gainsOf(next);
  const head = ({ inHours, when }: { inHours: number; when: string }) =>
    inHours < 1 ? t('next_test.now') : inHours < 20 ? t('next_test.in_hours', { hours: Math.round(inHours) }) : weekdayDate(ms(when)!, zone).replace(/ \D+$/, '');
  return (
    <details class="why-test">
      <summary>{t('next_test.why')}</summary>
      {reason && <p>{reason}</p>}
      {changes.filter(({ worth }) => !reason.toLowerCase().includes(formulas(worth.would_change).toLowerCase())).map(({ key, worth }) => (
        <p key={key} class="small">{t('next_test.change', { tests: testNames(worth), date: weekdayDate(ms(worth.when)!, zone), change: formulas(worth.would_change) })}</p>
      ))}
      <div class="scroll" tabIndex={0} role="region" aria-label={t('next_test.caption')}>
        <table class="gains">
          <caption>{t('next_test.caption')}</caption>
          <thead><tr><th scope="col">{t('next_test.test')}</th>{times.map((time) => <th key={time.inHours} scope="col">{head(time)}</th>)}<th scope="col">{t('next_test.price')}</th></tr></thead>
          <tbody>{rows.map(({ key, worth, hours }) => (
            <tr key={key}>
              <th scope="row">{testNames(worth)}</th>
              {hours.map((value, k) => <td key={k} class={value !== null && value > worth.cost * 24 ? 'strong' : ''}>{value === null ? '–' : value < 0.05 ? '0' : amount(value)}</td>)}
              <td>{amount(worth.cost * 24)}</td>
            </tr>
          ))}</tbody>
        </table>
      </div>
      <p class="small">{t('next_test.explain')}</p>
      {next.can_wait.some(({ until }) => until !== null) && (
        <p class="small">{t('next_test.can_wait', { list: next.can_wait.map(({ test, until }) =>
          t(until === null ? 'next_test.not_this_week' : 'next_test.until', { test: t(`test.${test}`), date: until === null ? '' : weekdayDate(ms(until)!, zone) })).join('; ') })}</p>
      )}
    </details>
  );
}
