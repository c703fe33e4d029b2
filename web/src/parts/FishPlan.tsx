// SPDX-License-Identifier: Apache-2.0
// The question about fish, and its answer. What was filled in stays for the loop until the window is closed.
import { useState } from 'preact/hooks';
import { fishPlan } from '../api';
import type { FishWish } from '../contract';
import { t } from '../locale/text';
import { fieldOf, remember, remembered, wishOf, type FishForm } from '../words/fish';
import { ErrorNote } from './ErrorNote';
import { FishAnswerView } from './FishAnswer';
import { FishFormView, type FieldProblem } from './FishForm';
import { Progress } from './Progress';
import { useAnswer } from './useAnswer';

export function FishPlan({ id, zone, withFish }: { id: string; zone: string; withFish: boolean }) {
  const [form, setForm] = useState<FishForm>(() => remembered(id));
  const [asked, ask] = useState<{ wish: FishWish; round: number } | null>(null);
  const [own, setOwn] = useState<FieldProblem | null>(null);
  const answer = useAnswer(asked ? JSON.stringify(asked) : null, (signal) => fishPlan(id, asked!.wish, signal));
  const change = (part: Partial<FishForm>) => { const next = { ...form, ...part }; setForm(next); remember(id, next); };
  const submit = () => {
    const round = (asked?.round ?? 0) + (own?.round ?? 0) + 1, made = wishOf(form);
    if ('problem' in made) { setOwn({ field: made.field, text: made.problem, round }); return; }
    setOwn(null);
    ask({ wish: made.wish, round });
  };
  const { error } = answer, field = error && !answer.waiting ? fieldOf(error.field) : null;
  const problem = own ?? (field ? { field, text: error!.message, round: asked?.round ?? 0 } : null);
  return (
    <section class="fish on-screen" id="fish" tabIndex={-1} aria-labelledby="fish-head">
      <h2 class="section" id="fish-head">{t(withFish ? 'fish_plan.head_fish' : 'fish_plan.head')}</h2>
      <FishFormView form={form} change={change} submit={submit} problem={problem} withFish={withFish} busy={asked !== null && answer.waiting} />
      {asked && answer.waiting && answer.slow && <Progress text={t('fish_plan.working')} usualMs={1500} />}
      {asked && error && !field && <ErrorNote error={error} again={answer.again} />}
      {asked && answer.value && !problem && !error && <FishAnswerView plan={answer.value} zone={zone} />}
    </section>
  );
}
