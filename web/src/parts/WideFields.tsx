// SPDX-License-Identifier: Apache-2.0
// What a wide sheet cannot say of itself: the first day, the water, what its numbers count, how the loop began.
import { useState } from 'preact/hooks';
import type { ApiError } from '../api';
import { t, type TextKey } from '../locale/text';
import { toLitres, type Measures } from '../units';

export const kStarts = ['unseeded', 'bottled culture', 'fish', 'seeded media'] as const;
export const kWideFields: Record<string, string> = { start: '', volume_l: '', basis: '', temperature_c: '', begin: 'unseeded' };

export function StartChoice({ value, change }: { value: string; change: (value: string) => void }) {
  return (
    <label class="field"><span>{t('field.begin')}</span>
      <select value={value} onChange={(event) => change(event.currentTarget.value)}>
        {kStarts.map((start) => <option key={start} value={start}>{t(`start.${start}` as TextKey)}</option>)}
      </select>
    </label>
  );
}

export function WideFields({ needs, fields, change, done, measures }:
  { needs: string[]; fields: Record<string, string>; change: (part: Record<string, string>) => void; done: () => void; measures: Measures; error: ApiError | null }) {
  const [volume, setVolume] = useState('');
  const need = (name: string) => needs.includes(name);
  return (
    <form class="fields" onSubmit={(event) => { event.preventDefault(); done(); }}>
      <h2 class="section">{t('wide.head')}</h2>
      {needs.length > 0 && <p role="status">{t('wide.needs')}</p>}
      <div class="row">
        <label class="field"><span>{t('field.start')}</span>
          <input type="date" value={fields['start']} required aria-invalid={need('start')} onInput={(event) => change({ start: event.currentTarget.value })} /></label>
        <label class="field"><span>{t('field.volume', { unit: measures === 'us' ? 'gal (US)' : 'L' })}</span>
          <input type="number" inputMode="decimal" min="1" step="any" value={volume} required aria-invalid={need('volume_l')}
            onInput={(event) => { setVolume(event.currentTarget.value); change({ volume_l: event.currentTarget.value ? String(+toLitres(Number(event.currentTarget.value), measures).toFixed(2)) : '' }); }} /></label>
        <StartChoice value={fields['begin'] ?? 'unseeded'} change={(begin) => change({ begin })} />
        <label class="field"><span>{t('field.celsius')}</span>
          <input type="number" inputMode="decimal" min="2" max="38" step="any" value={fields['temperature_c']} onInput={(event) => change({ temperature_c: event.currentTarget.value })} /></label>
      </div>
      <fieldset>
        <legend>{t('field.basis')}</legend>
        {(['ion', 'N'] as const).map((basis) => (
          <label key={basis} class="choice"><input type="radio" name="wide-basis" required checked={fields['basis'] === basis} onChange={() => change({ basis })} /><span>{t(`field.basis.${basis}`)}</span></label>
        ))}
      </fieldset>
      <button type="submit" class="filled">{t('wide.read')}</button>
    </form>
  );
}
