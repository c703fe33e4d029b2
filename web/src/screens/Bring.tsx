// SPDX-License-Identifier: Apache-2.0
// Bring your own: what was understood of a folder, a zip or a wide sheet. Nothing is kept unless asked.
import { useRef, useState } from 'preact/hooks';
import { keep, preview } from '../api';
import type { ApiError } from '../api';
import type { Entry, Preview, SheetData } from '../contract';
import { t } from '../locale/text';
import { ErrorNote } from '../parts/ErrorNote';
import { Frame } from '../parts/Frame';
import { OutlookView } from '../parts/OutlookView';
import { volumeText } from '../parts/PrintFoot';
import { Progress } from '../parts/Progress';
import { asApiError, useAnswer } from '../parts/useAnswer';
import { WideFields, kWideFields } from '../parts/WideFields';
import { go } from '../route';
import { useSettings } from '../settings';
import { kitOf, shownAs } from '../units';
import { dropped, sortOut, type Named } from '../words/brought';
import { dateTime } from '../words/dates';
import { shownNumber } from '../sheet/table';
import { kTests, type Test } from '../contract';

function takenFor(entry: Entry, loop: SheetData, basis: 'kit' | 'ion' | 'N'): string {
  const { reading } = entry;
  if (!reading) return entry.used ? entry.label || t('taken.used') : t('taken.kept');
  if (!(kTests as readonly string[]).includes(reading.test)) {
    return t('taken.between', { low: reading.low ?? '–', high: reading.high ?? '–', unit: '' }).trim();
  }
  const test = reading.test as Test, shown = shownAs(test, basis, kitOf(loop.loop.kits, test));
  const low = reading.low === null ? null : shownNumber(test, reading.low * shown.factor), high = reading.high === null ? null : shownNumber(test, reading.high * shown.factor);
  if (low === null) return high === null ? t('taken.used') : t('taken.up_to', { high, unit: shown.unit }).trim();
  return (high === null ? t('taken.from', { low, unit: shown.unit }) : t('taken.between', { low, high, unit: shown.unit })).trim();
}

function Understood({ found }: { found: Preview }) {
  const [settings] = useSettings();
  const loop = found.loop!;
  return (
    <section>
      <h2 class="section">{t('bring.understood')}</h2>
      <p>{t('bring.facts', { name: loop.loop.name, volume: volumeText(loop.loop, settings.measures), start: loop.loop.start, zone: loop.loop.time_zone, count: loop.entries.length })}</p>
      {found.unread.length > 0 && <>
        <h3 class="sub">{t(found.unread.length === 1 ? 'bring.unread_one' : 'bring.unread', { count: found.unread.length })}</h3>
        <ul class="plain">{found.unread.map((cell, k) => <li key={k}>{t('bring.unread_cell', { line: cell.line, column: cell.column, text: cell.text })}{cell.reason ? ` (${cell.reason})` : ''}</li>)}</ul>
      </>}
      <details class="as-table" open>
        <summary>{t('bring.entries', { count: loop.entries.length })}</summary>
        <div class="scroll" tabIndex={0} role="region" aria-label={t('bring.understood')}>
          <table>
            <thead><tr>{(['line', 'when', 'what', 'written', 'taken'] as const).map((name) => <th key={name} scope="col">{t(`bring.column.${name}`)}</th>)}</tr></thead>
            <tbody>{loop.entries.map((entry) => (
              <tr key={entry.line}>
                <th scope="row">{entry.line}</th><td>{entry.when ? dateTime(Date.parse(entry.when), loop.loop.time_zone) : '–'}</td><td>{entry.what}</td>
                <td>{[entry.value, entry.unit, entry.detail].filter(Boolean).join(' ')}</td><td>{takenFor(entry, loop, settings.basis)}</td>
              </tr>
            ))}</tbody>
          </table>
        </div>
      </details>
    </section>
  );
}

export function Bring() {
  const [settings] = useSettings();
  const [files, setFiles] = useState<Named[]>([]);
  const [fields, setFields] = useState<Record<string, string>>(kWideFields);
  const [round, setRound] = useState(0);
  const [over, setOver] = useState(false);
  const [name, setName] = useState<string | null>(null);
  const [keeping, setKeeping] = useState<{ error: ApiError | null; busy: boolean }>({ error: null, busy: false });
  const folder = useRef<HTMLInputElement>(null);

  const sorted = files.length ? sortOut(files, fields) : null;
  const brought = sorted && 'brought' in sorted ? sorted : null;
  const answer = useAnswer(brought ? String(round) : null, (signal) => preview(brought!.brought, signal));
  const found = brought ? answer.value : null;
  const take = (chosen: Named[]) => { if (chosen.length) { setFiles(chosen); setName(null); setKeeping({ error: null, busy: false }); setRound((k) => k + 1); } };
  const picked = (list: FileList | null) => take([...(list ?? [])].map((file) => ({ name: file.webkitRelativePath || file.name, file })));
  const keptAs = name ?? found?.loop?.loop.name ?? brought?.name ?? '';

  const keepIt = async () => {
    setKeeping({ error: null, busy: true });
    try { go(`/loops/${(await keep(brought!.brought, keptAs)).id}`); }
    catch (cause) { setKeeping({ error: asApiError(cause), busy: false }); }
  };
  const drop = async (event: DragEvent) => {
    event.preventDefault();
    setOver(false);
    if (event.dataTransfer) take(await dropped(event.dataTransfer));
  };
  return (
    <Frame place="bring" title={t('nav.bring')}>
      {!found?.outlook && <h1 class="sentence">{t(found?.needs.length ? 'bring.needs_sentence' : 'bring.sentence')}</h1>}
      {found?.outlook && found.loop && (
        <OutlookView outlook={found.outlook} entries={found.loop.entries} kits={found.loop.loop.kits} zone={found.loop.loop.time_zone} name={found.loop.loop.name}
          id={null} clock={null} under={<p class="small rests">{t('bring.not_kept')}</p>} />
      )}
      {found?.outlook && (
        <section>
          <h2 class="section">{t('bring.keep_head')}</h2>
          <p>{t('bring.keep_explain')}</p>
          <form class="row" onSubmit={(event) => { event.preventDefault(); void keepIt(); }}>
            <label class="field"><span>{t('bring.name')}</span><input type="text" value={keptAs} required maxLength={60} onInput={(event) => setName(event.currentTarget.value)} /></label>
            <button type="submit" class="filled" disabled={keeping.busy}>{t('bring.keep')}</button>
          </form>
          {keeping.error && <ErrorNote error={keeping.error} />}
        </section>
      )}
      <section class={found?.outlook ? 'bring-again' : ''}>
        {found?.outlook && <h2 class="section">{t('bring.another')}</h2>}
        <div class={over ? 'drop over' : 'drop'} onDragOver={(event) => { event.preventDefault(); setOver(true); }} onDragLeave={() => setOver(false)} onDrop={(event) => void drop(event)}>
          <p>{t('bring.drop')}</p>
          <div class="row">
            <label class="button">{t('bring.files')}<input class="file" type="file" multiple accept=".zip,.csv,.toml,.txt" onChange={(event) => picked(event.currentTarget.files)} /></label>
            <label class="button">{t('bring.folder')}<input class="file" type="file" ref={(element) => { folder.current = element; element?.setAttribute('webkitdirectory', ''); }} onChange={(event) => picked(event.currentTarget.files)} /></label>
          </div>
        </div>
      </section>
      {sorted && 'problem' in sorted && <div class="error" role="alert"><p>{sorted.problem}</p></div>}
      {brought?.wide && found && (
        <WideFields needs={found.needs} fields={fields} measures={settings.measures} error={answer.error}
          change={(part) => setFields((before) => ({ ...before, ...part }))} done={() => setRound((k) => k + 1)} />
      )}
      {answer.slow && <Progress text={t('bring.working')} usualMs={1500} />}
      {answer.error && brought && <ErrorNote error={answer.error} again={answer.again} />}
      {found?.loop && <Understood found={found} />}
      {!found && (
        <section>
          <h2 class="section">{t('bring.what_head')}</h2>
          <dl class="what">
            <dt>{t('bring.what_folder')}</dt><dd>{t('bring.what_folder_text')}</dd>
            <dt>{t('bring.what_zip')}</dt><dd>{t('bring.what_zip_text')}</dd>
            <dt>{t('bring.what_wide')}</dt><dd>{t('bring.what_wide_text')}</dd>
          </dl>
        </section>
      )}
    </Frame>
  );
}
