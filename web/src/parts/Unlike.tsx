// SPDX-License-Identifier: Apache-2.0
// The doubt above all others: the log is unlike any loop that was believed possible, so every range below is in doubt.
import { t } from '../locale/text';
import { formulas } from '../words/numbers';

export function Unlike({ text }: { text: string }) {
  return <div class="unlike" role="note"><p class="strong">{t('unlike.head')}</p><p>{formulas(text)}</p></div>;
}
