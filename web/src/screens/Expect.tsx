// SPDX-License-Identifier: Apache-2.0
// What to expect: the outlook of a loop that has not begun, and what the weeks ahead are made of.
import { useState } from 'preact/hooks';
import { expectOutlook } from '../api';
import type { ExpectWish } from '../contract';
import { t, type TextKey } from '../locale/text';
import { ErrorNote } from '../parts/ErrorNote';
import { Frame } from '../parts/Frame';
import { OutlookView } from '../parts/OutlookView';
import { Progress } from '../parts/Progress';
import { useAnswer } from '../parts/useAnswer';
import { StartChoice } from '../parts/WideFields';
import { useSettings } from '../settings';
import { litres, temperature, toCelsius, toLitres } from '../units';

const kFirst: ExpectWish = { volume_l: 500, start: 'unseeded', temperature_c: 24, seed_area_m2: null, alkalinity_mg_l_caco3: null };
const kLessons = ['ammonia', 'nitrite', 'nitrate', 'alkalinity', 'temperature', 'waiting', 'reading', 'ready'] as const;

interface NumberFieldProps { label: string; value: number | null; min: number; max: number; change: (value: number | null) => void; optional?: boolean; hint?: string }
function NumberField({ label, value, min, max, change, optional, hint }: NumberFieldProps) {
  const [text, setText] = useState(value === null ? '' : String(+value.toFixed(1)));
  const number = text === '' ? null : Number(text);
  const wrong = number === null ? !optional : !(number >= min && number <= max);
  return (
    <label class="field"><span>{label}</span>
      <input type="number" inputMode="decimal" step="any" min={min} max={max} value={text} aria-invalid={wrong}
        onInput={(event) => {
          const next = event.currentTarget.value;
          setText(next);
          const parsed = next === '' ? null : Number(next);
          if (parsed === null ? optional : parsed >= min && parsed <= max) change(parsed);
        }} />
      {wrong ? <span class="small field-error" role="alert">{t('field.range', { min, max })}</span> : hint && <span class="small">{hint}</span>}
    </label>
  );
}

export function Expect() {
  const [{ measures }] = useSettings();
  const [wish, set] = useState<ExpectWish>(kFirst);
  const change = (part: Partial<ExpectWish>) => set((before) => ({ ...before, ...part }));
  const key = JSON.stringify(wish);
  const answer = useAnswer(key, (signal) => expectOutlook(wish, signal), 250);
  const volumeOf = (value: number) => +litres(value, measures).value.toFixed(0), warmthOf = (value: number) => +temperature(value, measures).value.toFixed(0);
  const zone = Intl.DateTimeFormat().resolvedOptions().timeZone || 'UTC';
  return (
    <Frame place="expect" title={t('nav.expect')}>
      <form class="fields expect-form" aria-label={t('expect.form')} onSubmit={(event) => event.preventDefault()}>
        <div class="row" key={measures}>
          <NumberField label={t('field.volume', { unit: litres(0, measures).unit })} value={litres(wish.volume_l, measures).value} min={volumeOf(10)} max={volumeOf(100000)}
            change={(value) => change({ volume_l: +toLitres(value!, measures).toFixed(2) })} />
          <StartChoice value={wish.start} change={(start) => change({ start, seed_area_m2: start === 'seeded media' ? wish.seed_area_m2 : null })} />
          {wish.start === 'seeded media' && <NumberField label={t('field.seed_area')} value={wish.seed_area_m2} min={0.01} max={10000} optional change={(value) => change({ seed_area_m2: value })} />}
          <NumberField label={t('field.temperature', { unit: temperature(0, measures).unit })} value={temperature(wish.temperature_c, measures).value} min={warmthOf(5)} max={warmthOf(35)}
            change={(value) => change({ temperature_c: +toCelsius(value!, measures).toFixed(2) })} />
          <NumberField label={t('field.alkalinity')} value={wish.alkalinity_mg_l_caco3} min={0} max={600} optional hint={t('field.optional')} change={(value) => change({ alkalinity_mg_l_caco3: value })} />
        </div>
      </form>
      {!answer.value && !answer.error && <h1 class="sentence waiting">{t('expect.waiting')}</h1>}
      {answer.slow && <Progress text={t('expect.working')} usualMs={1200} />}
      {answer.error && <>{!answer.value && <h1 class="sentence">{t('expect.failed')}</h1>}<ErrorNote error={answer.error} again={answer.again} /></>}
      {answer.value && <OutlookView outlook={answer.value} entries={[]} kits={[]} zone={zone} name={t('expect.name')} id={null} clock={null} act={false}
        under={<p class="small rests">{t('expect.rests')}</p>} />}
      <section class="lessons">
        <h2 class="section">{t('lesson.head')}</h2>
        {kLessons.map((lesson) => <div key={lesson}><h3 class="sub">{t(`lesson.${lesson}.head` as TextKey)}</h3><p>{t(`lesson.${lesson}` as TextKey)}</p></div>)}
      </section>
    </Frame>
  );
}
