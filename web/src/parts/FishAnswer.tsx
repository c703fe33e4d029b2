// SPDX-License-Identifier: Apache-2.0
// May fish go in, and on how much feed. Every number to act on has its cautions beside it and its chance in the same row.
import type { ComponentChildren } from 'preact';
import type { FishAnswer, KeptLimits, LimitName } from '../contract';
import { t } from '../locale/text';
import { capital, chance } from '../words/chance';
import { dateTime, ms, weekdayDate } from '../words/dates';
import { amount, formulas, grams, grouped } from '../words/numbers';
import { Caution } from './Caution';

const kLimits: readonly LimitName[] = ['ammonia', 'free_ammonia', 'nitrite', 'oxygen', 'ph'];

// In hundredths and never rounded up: a threshold that was missed must not read as reached.
export function chanceText(p: number): string {
  const hundredths = Math.min(99, Math.floor(100 * p + 1e-6));
  return t(hundredths < 1 ? 'fish_plan.chance_least' : 'fish_plan.chance', { word: chance(p).word, hundredths });
}
const Lines = ({ lines }: { lines: string[] }) => <ul class="lines">{lines.map((line) => <li key={line}>{capital(formulas(line))}</li>)}</ul>;
const Part = ({ head, children }: { head: string; children: ComponentChildren }) => <section class="fish-part"><h3 class="section">{head}</h3>{children}</section>;

// What is to be done first: the first week's fish and feed, or with fish in the feed and the new water.
function First({ plan }: { plan: FishAnswer }) {
  const { feed_and_water: care, weeks } = plan, week = weeks[0];
  if (care) {
    return <>
      {care.feed_g_per_day > 0
        ? <p><span class="amount">{t('fish_plan.grams', { grams: grams(care.feed_g_per_day) })}</span> <span class="strong">{t('fish_plan.feed_most')}</span></p>
        : <p class="amount">{t('fish_plan.no_feed')}</p>}
      <p class="strong">{care.change_share > 0 && care.change_every_days
        ? t(care.change_every_days === 1 ? 'fish_plan.change_daily' : 'fish_plan.change', { percent: Math.round(care.change_share * 100), days: care.change_every_days })
        : t('fish_plan.no_change')}</p>
      <p class="small">{t('fish_plan.kept', { days: plan.judged_days, chance: chanceText(care.kept.probability) })}{!care.meets_aim && ` ${t('fish_plan.kept_later', { chance: chanceText(care.kept_from_day_4.probability) })}`}</p>
      {plan.without_change && <p class="small">{t('fish_plan.without_change', { grams: grams(plan.without_change.feed_g_per_day), chance: chanceText(plan.without_change.probability) })}</p>}
    </>;
  }
  if (!(plan.verdict === 'go' || plan.part_now) || !week || week.share <= 0) return null;
  return <>
    <p>{week.fish !== null && <><span class="amount">{grouped(week.fish)}</span> <span class="strong">{t('fish_plan.fish_first')}</span></>}</p>
    <p class="strong">{t('fish_plan.first_feed', { grams: grams(week.feed_g_per_day) })}</p>
    <p class="small">{t('fish_plan.kept_week', { chance: chanceText(week.probability) })}</p>
  </>;
}

function Weeks({ plan, zone }: { plan: FishAnswer; zone: string }) {
  const counted = plan.weeks.some((week) => week.fish !== null) && !plan.fish;
  return (
    <table class="weeks">
      <caption>{t(plan.fish ? 'fish_plan.weeks_fish' : 'fish_plan.weeks')}</caption>
      <thead><tr><th scope="col">{t('fish_plan.week_from')}</th>{counted && <th scope="col">{t('fish_plan.week_fish')}</th>}<th scope="col">{t('fish_plan.week_feed')}</th><th scope="col">{t('fish_plan.week_kept')}</th><th scope="col">{t('fish_plan.week_tests')}</th></tr></thead>
      <tbody>{plan.weeks.map((week) => (
        <tr key={week.from}>
          <th scope="row">{weekdayDate(ms(week.from)!, zone)}</th>{counted && <td>{week.fish === null ? '–' : week.fish === 0 ? t('fish_plan.none') : grouped(week.fish)}</td>}
          <td>{week.share <= 0 ? t('fish_plan.none') : t('fish_plan.grams', { grams: grams(week.feed_g_per_day) })}</td><td>{chanceText(week.probability)}</td><td>{week.tests}</td>
        </tr>
      ))}</tbody>
    </table>
  );
}

function Challenge({ plan, zone }: { plan: FishAnswer; zone: string }) {
  const { challenge, last_challenge: last } = plan;
  if (!challenge) return null;
  const dose = t('fish_plan.challenge_dose', { mg: amount(challenge.ammonia_mg_l), hours: challenge.test_after_hours });
  return (
    <Part head={t('fish_plan.challenge')}>
      {last && last.verdict !== 'none' && <p>{t('fish_plan.last_challenge', { date: last.dosed ? dateTime(ms(last.dosed)!, zone) : '', mg: last.ammonia_mg_l === null ? '–' : amount(last.ammonia_mg_l), verdict: t(`fish_plan.challenge.${last.verdict}`) })} {last.text}
        {last.probability !== null && ` ${t('fish_plan.last_chance', { chance: chanceText(last.probability) })}`}</p>}
      <div class="beside gap">
        <div>
          {challenge.now
            ? <p><span class="amount">{t('fish_plan.grams', { grams: grams(challenge.ammonium_chloride_g) })}</span> <span class="strong">{t('fish_plan.chloride')}</span></p>
            : <p class="strong">{t('fish_plan.challenge_wait')}</p>}
          <p>{challenge.now ? dose : t('fish_plan.challenge_then', { grams: grams(challenge.ammonium_chloride_g), dose: dose.charAt(0).toLowerCase() + dose.slice(1) })}</p>
          {challenge.now && <p class="small">{t('fish_plan.would_pass', { chance: chanceText(challenge.would_pass) })}</p>}
          {challenge.capped && <p class="small">{t('fish_plan.capped')}</p>}
        </div>
        <Caution lines={challenge.cautions} head={t('fish_plan.caution_dose')} />
      </div>
    </Part>
  );
}

function After({ plan, zone }: { plan: FishAnswer; zone: string }) {
  return (
    <Part head={t('fish_plan.after')}>
      <table class="weeks">
        <caption>{t('fish_plan.after_caption', { days: plan.judged_days, aim: Math.round(100 * plan.aim) })}</caption>
        <thead><tr><th scope="col">{t('fish_plan.after_when')}</th><th scope="col">{t('fish_plan.after_full')}</th><th scope="col">{t('fish_plan.after_ramp')}</th></tr></thead>
        <tbody>{plan.after.map(({ days, when, full, ramp, ramp_holds }) => (
          <tr key={days}>
            <th scope="row">{days === 0 ? t('fish_plan.after_now') : weekdayDate(ms(when)!, zone)}</th>
            <td class={full.probability >= plan.aim ? 'strong' : ''}>{chanceText(full.probability)}</td><td class={ramp_holds ? 'strong' : ''}>{chanceText(ramp.probability)}</td>
          </tr>
        ))}</tbody>
      </table>
    </Part>
  );
}

function Limits({ plan }: { plan: FishAnswer }) {
  const kept: KeptLimits | undefined = plan.feed_and_water?.kept ?? plan.after[0]?.full;
  return (
    <details class="as-table">
      <summary>{t('fish_plan.limits')}</summary>
      <div class="scroll" tabIndex={0} role="region" aria-label={t('fish_plan.limits')}>
        <table>
          <thead><tr><th scope="col">{t('fish_plan.limit')}</th><th scope="col">{t('fish_plan.limit_says')}</th><th scope="col">{t('fish_plan.limit_kept')}</th><th scope="col">{t('fish_plan.limit_rests')}</th></tr></thead>
          <tbody>{kLimits.map((name) => (
            <tr key={name}><th scope="row">{t(`fish_plan.limit.${name}`)}</th><td>{formulas(plan.limits[name].says)}</td><td>{kept ? chanceText(kept[name]) : '–'}</td><td>{t(`confidence.${plan.limits[name].confidence}`)}</td></tr>
          ))}</tbody>
        </table>
      </div>
    </details>
  );
}

export function FishAnswerView({ plan, zone }: { plan: FishAnswer; zone: string }) {
  return <>
    <p class="sentence small-sentence" role="status">{plan.headline}</p>
    {plan.emergency.length > 0 && <div class="emergency"><p class="danger">{t('fish_plan.emergency')}</p><Lines lines={plan.emergency} /></div>}
    <div class="beside with-reasons">
      <div class="first">
        <First plan={plan} />
        <p class="small">{t('fish_plan.asked', { feed: grams(plan.asked.feed_g_per_day), from: plan.asked.feed_from })}</p>
      </div>
      <Caution lines={plan.cautions} head={t(plan.fish ? 'fish_plan.caution_fish' : 'fish_plan.caution')} />
      <div class="reasons">
        <h3 class="sub">{t('fish_plan.because')}</h3>
        <Lines lines={plan.because} />
        {plan.steps.length > 0 && <><h3 class="sub">{t('fish_plan.steps')}</h3><Lines lines={plan.steps} /></>}
      </div>
    </div>
    {plan.salt && (
      <Part head={t('fish_plan.salt')}>
        <div class="beside">
          <div><p><span class="amount">{t('fish_plan.grams', { grams: grams(plan.salt.sodium_chloride_g) })}</span> <span class="strong">{t('fish_plan.salt_what')}</span></p><p class="small">{t('fish_plan.salt_why', { mg: amount(plan.salt.chloride_mg_l) })}</p></div>
          <Caution lines={plan.salt.cautions} />
        </div>
      </Part>
    )}
    {plan.weeks.length > 0 && (
      <Part head={t('fish_plan.weeks_head')}>
        <div class="beside">
          <Weeks plan={plan} zone={zone} />
          <Caution lines={plan.hold_rules} head={t('fish_plan.hold')} />
        </div>
      </Part>
    )}
    {plan.weeks.length === 0 && plan.hold_rules.length > 0 && <Part head={t('fish_plan.hold')}><Lines lines={plan.hold_rules} /></Part>}
    {plan.after.length > 0 && <After plan={plan} zone={zone} />}
    <Challenge plan={plan} zone={zone} />
    <Limits plan={plan} />
  </>;
}
