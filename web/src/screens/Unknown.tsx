// SPDX-License-Identifier: Apache-2.0
import { t } from '../locale/text';
import { Frame } from '../parts/Frame';
import { Link } from '../route';

export function Unknown() {
  return (
    <Frame place="unknown" title={t('unknown.title')}>
      <h1 class="sentence">{t('unknown.sentence')}</h1>
      <p><Link to="/">{t('nav.board')}</Link></p>
    </Frame>
  );
}
