// SPDX-License-Identifier: Apache-2.0
// Running head, the page itself, and the bar at the thumb on a phone.
import type { ComponentChildren } from 'preact';
import { useEffect } from 'preact/hooks';
import { t } from '../locale/text';
import { Link } from '../route';
import { SettingsPanel } from './SettingsPanel';

export type Place = 'board' | 'loop' | 'bring' | 'expect' | 'unknown';

export function Frame({ place, name, day, title, children }: { place: Place; name?: string; day?: string; title: string; children: ComponentChildren }) {
  useEffect(() => { document.title = t('title', { page: title }); }, [title]);
  const links = <>
    <Link to="/" current={place === 'board'}>{t('nav.board')}</Link>
    <Link to="/bring" current={place === 'bring'}>{t('nav.bring')}</Link>
    <Link to="/expect" current={place === 'expect'}>{t('nav.expect')}</Link>
  </>;
  return <>
    <header class="head">
      <p class="brand">{name ? <span class="on-desk">Helmwater</span> : 'Helmwater'}</p>
      {name && <p class="where"><span class="loop-name">{name}</span> <span class="small">{day}</span></p>}
      <nav class="on-desk" aria-label={t('nav.label')}>{links}</nav>
      <SettingsPanel />
    </header>
    <main id="main" tabIndex={-1}>{children}</main>
    <nav class="thumb on-phone" aria-label={t('nav.label')}>{links}</nav>
  </>;
}
