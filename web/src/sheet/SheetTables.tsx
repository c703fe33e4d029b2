// SPDX-License-Identifier: Apache-2.0
// The sheet as tables, one a test; built when first opened.
import { useState } from 'preact/hooks';
import type { Test } from '../contract';
import { t } from '../locale/text';
import type { Panel } from './panels';
import { tableRows } from './table';

export function SheetTables({ panels, now, to, zone }: { panels: Panel[]; now: number; to: number; zone: string }) {
  const [open, setOpen] = useState(false);
  const [test, setTest] = useState<Test>('nitrite');
  const panel = panels.find((candidate) => candidate.test === test)!;
  return (
    <details class="as-table" onToggle={(event) => setOpen((event.currentTarget as HTMLDetailsElement).open)}>
      <summary>{t('sheet.as_table')}</summary>
      {open && <>
        <div class="row" role="group" aria-label={t('table.which')}>
          {panels.map((candidate) => (
            <button key={candidate.test} type="button" class="textlink" aria-pressed={candidate.test === test} onClick={() => setTest(candidate.test)}>{t(`test.${candidate.test}`)}</button>
          ))}
        </div>
        <div class="scroll" tabIndex={0} role="region" aria-label={t('table.caption', { test: t(`test.${test}`), unit: panel.shown.unit })}>
          <table>
            <caption>{t('table.caption', { test: t(`test.${test}`), unit: panel.shown.unit })}</caption>
            <thead><tr>{(['when', 'read', 'low', 'high', 'middle', 'range'] as const).map((name) => <th key={name} scope="col">{t(`table.${name}`)}</th>)}</tr></thead>
            <tbody>
              {tableRows(panel, now, to, zone).map((row, k) => (
                <tr key={k} class={row.ahead ? 'ahead' : ''}>
                  <th scope="row">{row.when}</th><td>{row.read}</td><td>{row.low}</td><td>{row.high}</td><td>{row.middle}</td><td>{row.range}</td>
                </tr>
              ))}
            </tbody>
          </table>
        </div>
      </>}
    </details>
  );
}
