// SPDX-License-Identifier: Apache-2.0
// The only framed box of the page.
import { useId } from 'preact/hooks';
import { t } from '../locale/text';

export function Caution({ lines }: { lines: string[] }) {
  const id = useId();
  if (lines.length === 0) return null;
  return (
    <section class="caution" aria-labelledby={id}>
      <h3 id={id}>{t('caution.head')}</h3>
      <ul>{lines.map((line) => <li key={line}>{line}</li>)}</ul>
    </section>
  );
}
