// SPDX-License-Identifier: Apache-2.0
// Tried out, not done: the next dose, buffer, temperature and waiting. The outlook as it stands stays visible as thin lines.
import { useId, useState } from 'preact/hooks';
import { whatIf } from '../api';
import { kMilestones, type Entry, type Kit, type Outlook, type WhatIfWish } from '../contract';
import { t } from '../locale/text';
import { useSettings } from '../settings';
import type { Deed } from '../sheet/DeedMark';
import { Sheet } from '../sheet/Sheet';
import { temperature } from '../units';
import { dayMonth, kDay, ms } from '../words/dates';
import { milestones } from '../words/milestone';
import { amount, grams } from '../words/numbers';
import { sentence } from '../words/sentence';
import { Caution } from './Caution';
import { ErrorNote } from './ErrorNote';
import { Progress } from './Progress';
import { useAnswer } from './useAnswer';
import { nowLabel } from './OutlookView';

export interface Tried { dose: number; buffer: number; celsius: number | null; wait: number }
const kNothing: Tried = { dose: 0, buffer: 0, celsius: null, wait: 0 };
const kDebounceMs = 250;

// Waiting holds back everything: what is tried out here and what the loop's plan would give.
export function wishOf(tried: Tried): WhatIfWish {
  return {
    dose_ammonia_mg_l: tried.dose > 0 ? tried.dose : null, dose_in_days: tried.wait,
    buffer_mg_l_caco3: tried.buffer > 0 ? tried.buffer : null, buffer_in_days: tried.wait,
    temperature_c: tried.celsius, wait_days: tried.wait, plan: true,
  };
}
export const isNothing = (tried: Tried) => tried.dose === 0 && tried.buffer === 0 && tried.celsius === null && tried.wait === 0;

interface SliderProps { label: string; value: number; said: string; min: number; max: number; step: number; onInput: (value: number) => void }
function Slider({ label, value, said, min, max, step, onInput }: SliderProps) {
  const id = useId();
  return (
    <div class="slider">
      <label for={id}>{label}</label><output for={id}>{said}</output>
      <input id={id} type="range" min={min} max={max} step={step} value={value} aria-valuetext={said}
        onInput={(event) => onInput(Number(event.currentTarget.value))} />
    </div>
  );
}

export function WhatIf({ id, outlook, entries, kits, zone, name, usualCelsius, clock }:
  { id: string; outlook: Outlook; entries: Entry[]; kits: Kit[]; zone: string; name: string; usualCelsius: number; clock: number | null }) {
  const [settings] = useSettings();
  const [tried, set] = useState<Tried>(kNothing);
  const change = (part: Partial<Tried>) => set((before) => ({ ...before, ...part }));
  const wish = wishOf(tried);
  const answer = useAnswer(isNothing(tried) ? null : JSON.stringify(wish), (signal) => whatIf(id, wish, signal), kDebounceMs);
  const shown = isNothing(tried) ? null : answer.value;
  const dates = milestones(outlook, kMilestones, zone), changed = shown ? milestones(shown.outlook, kMilestones, zone) : [];
  const now = ms(outlook.as_of)!, at = now + tried.wait * kDay;
  const planned: Deed[] = [];
  if (tried.dose > 0 || tried.buffer > 0) planned.push({ at, kind: 'dose', label: '', share: null, planned: true, line: null });
  if (tried.celsius !== null) planned.push({ at: now, kind: 'temperature', label: '', share: null, planned: true, line: null });
  const warm = (celsius: number) => { const { value, unit } = temperature(celsius, settings.measures); return `${value.toFixed(0)} ${unit}`; };
  const chloride = shown?.amounts.ammonium_chloride_g, bicarbonate = shown?.amounts.potassium_bicarbonate_g;
  const said = shown && sentence({ outlook: shown.outlook, zone, kits, basis: settings.basis, clock: null });
  return (
    <section class="what-if" id="what-if" tabIndex={-1} aria-labelledby="what-if-head">
      <h2 class="section" id="what-if-head">{t('what_if.head')}</h2>
      <p class="small">{t('what_if.explain')}</p>
      <div class="sliders">
        <Slider label={t('what_if.dose')} value={tried.dose} min={0} max={4} step={0.25} onInput={(dose) => change({ dose })}
          said={tried.dose ? t('what_if.dose_said', { value: amount(tried.dose) }) : t('what_if.none')} />
        <Slider label={t('what_if.buffer')} value={tried.buffer} min={0} max={100} step={5} onInput={(buffer) => change({ buffer })}
          said={tried.buffer ? t('what_if.buffer_said', { value: tried.buffer }) : t('what_if.none')} />
        <Slider label={t('what_if.temperature')} value={tried.celsius ?? usualCelsius} min={10} max={32} step={1} onInput={(celsius) => change({ celsius })}
          said={tried.celsius === null ? t('what_if.as_it_is') : warm(tried.celsius)} />
        <Slider label={t('what_if.wait')} value={tried.wait} min={0} max={14} step={1} onInput={(wait) => change({ wait })}
          said={tried.wait === 0 ? t('what_if.at_once') : t('what_if.wait_said', { count: tried.wait, date: dayMonth(at, zone) })} />
      </div>
      {!isNothing(tried) && <button type="button" onClick={() => set(kNothing)}>{t('what_if.reset')}</button>}
      {answer.slow && <Progress text={t('what_if.working')} usualMs={1000} />}
      {answer.error && !isNothing(tried) && <ErrorNote error={answer.error} again={answer.again} />}
      {shown && <>
        <p class="sentence small-sentence" role="status">{said}</p>
        {(chloride != null || bicarbonate != null || shown.cautions.length > 0) && (
          <div class="beside amounts">
            <div>
              {chloride != null && <p><span class="amount">{t('what_if.grams', { grams: grams(chloride) })}</span> <span>{t('what_if.chloride')}</span></p>}
              {bicarbonate != null && <p><span class="amount">{t('what_if.grams', { grams: grams(bicarbonate) })}</span> <span>{t('what_if.bicarbonate')}</span></p>}
            </div>
            <Caution lines={shown.cautions} />
          </div>
        )}
        <div class="desk-columns">
          <Sheet outlook={shown.outlook} old={outlook} oldLabel={t('what_if.old_label')} entries={entries} kits={kits} zone={zone}
            dates={changed} doubts={[]} story={said ?? ''} nowLabel={nowLabel(outlook, zone, clock)} planned={planned} name={t('what_if.sheet', { name })} />
          <div class="margin">
            <h3 class="section">{t('what_if.dates')}</h3>
            <table class="compare">
              <thead><tr><th scope="col">{t('what_if.date')}</th><th scope="col">{t('what_if.as_it_stands')}</th><th scope="col">{t('what_if.with_this')}</th></tr></thead>
              <tbody>{dates.map((date) => {
                const other = changed.find((candidate) => candidate.name === date.name);
                return <tr key={date.name}><th scope="row">{date.label}</th><td>{date.headline}<span class="small span">{date.range || date.known}</span></td><td>{other?.headline}<span class="small span">{other?.range || other?.known}</span></td></tr>;
              })}</tbody>
            </table>
          </div>
        </div>
      </>}
    </section>
  );
}
