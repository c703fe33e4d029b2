// SPDX-License-Identifier: Apache-2.0
// The only framed box of the page.
import { useId } from 'preact/hooks';
import { t } from '../locale/text';
import { formulas } from '../words/numbers';

export function Caution({ lines, head = t('caution.head') }: { lines: string[]; head?: string }) {
  const id = useId();
  if (lines.length === 0) return null;
  return (
    <div class="caution" role="group" aria-labelledby={id}>
      <p class="caution-head" id={id}>{head}</p>
      <ul>{lines.map((line) => <li key={line}>{formulas(line)}</li>)}</ul>
    </div>
  );
}
