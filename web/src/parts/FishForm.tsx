// SPDX-License-Identifier: Apache-2.0
// What fish, how many, how heavy, on how much feed. A refusal stands at the field it is about.
import { useEffect, useId, useRef } from 'preact/hooks';
import { t, type TextKey } from '../locale/text';
import { kFishNames, type FishField, type FishForm } from '../words/fish';

export interface FieldProblem { field: FishField; text: string; round: number }
interface Props { form: FishForm; change: (part: Partial<FishForm>) => void; submit: () => void; problem: FieldProblem | null; withFish: boolean; busy: boolean }

export function FishFormView({ form, change, submit, problem, withFish, busy }: Props) {
  const id = useId(), root = useRef<HTMLFormElement>(null);
  useEffect(() => {
    if (problem) root.current?.querySelector<HTMLInputElement>(`[name="${problem.field}"]`)?.focus();
  }, [problem?.field, problem?.round]);
  const field = (name: FishField, label: string, hint: string, number: boolean) => {
    const wrong = problem?.field === name;
    return (
      <div class="field">
        <label for={`${id}-${name}`}>{label}</label>
        <input id={`${id}-${name}`} name={name} type="text" inputMode={number ? 'decimal' : 'text'} autocomplete="off" list={number ? undefined : `${id}-names`} value={form[name]}
          maxLength={number ? 12 : 100} aria-invalid={wrong} aria-describedby={`${id}-${name}-note`} onInput={(event) => change({ [name]: event.currentTarget.value })} />
        <span id={`${id}-${name}-note`} class={wrong ? 'small field-error' : 'small'} role={wrong ? 'alert' : undefined}>{wrong ? problem.text : hint}</span>
      </div>
    );
  };
  return (
    <form ref={root} class="fish-form" noValidate aria-label={t('fish_plan.form')} onSubmit={(event) => { event.preventDefault(); submit(); }}>
      <div class="row">
        {field('count', t('fish_plan.count'), withFish ? t('fish_plan.as_logged') : '', true)}
        {field('weight', t('fish_plan.weight'), '', true)}
        {field('species', t('fish_plan.species'), t('fish_plan.species_hint'), false)}
        {field('feed', t(`fish_plan.feed.${form.per}`), t(withFish ? 'fish_plan.feed_hint_fish' : 'fish_plan.feed_hint'), true)}
      </div>
      <datalist id={`${id}-names`}>{kFishNames.map((name) => <option key={name} value={name} />)}</datalist>
      <fieldset class="row">
        <legend>{t('fish_plan.per')}</legend>
        {(['percent', 'grams'] as const).map((per) => (
          <label key={per} class="choice"><input type="radio" name={`${id}-per`} checked={form.per === per} onChange={() => change({ per })} /><span>{t(`fish_plan.per.${per}` as TextKey)}</span></label>
        ))}
      </fieldset>
      <button type="submit" class="filled" disabled={busy}>{t(withFish ? 'fish_plan.ask_fish' : 'fish_plan.ask')}</button>
    </form>
  );
}
