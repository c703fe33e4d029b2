// SPDX-License-Identifier: Apache-2.0
// The sentence over an outlook: where the water is, when it turns, and what that means for fish. Every part is a rule over the
// numbers of the outlook; a part without a clear answer says so.
import type { Kit, Outlook, StageName, Test } from '../contract';
import { t, type TextKey } from '../locale/text';
import type { NitrogenBasis } from '../units';
import { kitOf, shownAs, stepsInPageUnits } from '../units';
import { capital, chance } from './chance';
import { dayMonth, fullDate, kDay, ms, soon } from './dates';
import { milestone } from './milestone';
import { amount } from './numbers';

export interface SentenceInput {
  outlook: Outlook; zone: string; kits: Kit[]; basis: NitrogenBasis;
  clock: number | null;   // the reader's clock; null where the loop has not begun or is only tried out
  fishAtRisk?: boolean;
}

const kStaleDays = 2;
const kRiskSpoken = 0.1;  // below one in ten a risk to fish is not put into the sentence

// "near 16 mg/L as NO₂⁻", or past the owner's chart when most courses are above its last step.
function level(test: Test, { outlook, kits, basis }: SentenceInput): { key: 'past' | 'near'; value: string } {
  const kit = kitOf(kits, test);
  const top = stepsInPageUnits(kit, test).at(-1);
  const shown = shownAs(test, basis, kit);
  const q = outlook.now[test];
  return { key: top !== undefined && q.p25 > top ? 'past' : 'near', value: `${amount(q.p50 * shown.factor)} ${shown.unit}`.trim() };
}

// A stage is of the present; where an act that is tried out moves the peak ahead of it again, nitrite has not turned.
function stageName({ stage, milestones }: Outlook): StageName {
  return stage.name === 'nitrite_falling' && !milestones.nitrite_peak.reached ? 'nitrite_rising' : stage.name;
}

export function stageSentence(input: SentenceInput): string {
  const { outlook } = input;
  const name = stageName(outlook), { probability } = outlook.stage;
  if (name === 'empty' || outlook.readings_used === 0) return t('stage.prior');
  if (name === 'cannot_tell') return t('stage.cannot_tell');
  const of: Test = name === 'nitrite_rising' || name === 'nitrite_falling' ? 'nitrite' : name === 'stalled' ? 'alkalinity' : 'ammonia';
  const { key, value } = level(of, input);
  let stem: TextKey;
  if (name === 'nitrite_rising') stem = `stage.nitrite_rising.${key}`;
  else if (name === 'nitrite_falling') stem = `stage.nitrite_falling.${key}`;
  else if (name === 'stalled') stem = outlook.now.alkalinity.p50 < 20 ? 'stage.stalled.alkalinity' : 'stage.stalled.unknown';
  else stem = `stage.${name}`;
  const slots = { value, date: outlook.stage.since ? dayMonth(ms(outlook.stage.since)!, input.zone) : '' };
  const said = t(stem, slots);
  if (probability >= 0.97) return said;
  const c = chance(probability);
  return t('stage.hedged', { word: capital(c.word), number: c.number, stage: said.charAt(0).toLowerCase() + said.slice(1) });
}

function turnSentence({ outlook, zone }: SentenceInput): string | null {
  const stage = stageName(outlook);
  if (stage === 'cannot_tell') return null;
  const name = stage === 'nitrite_falling' ? 'nitrite_first_clear'
    : stage === 'ready' || stage === 'running' ? 'alkalinity_runs_out'
    : outlook.milestones.nitrite_peak.reached ? 'nitrite_first_clear' : 'nitrite_peak';
  const m = milestone(name, outlook, zone);
  if (!m) return null;
  if (m.kind === 'happened' || m.kind === 'not_in_sight') {
    return name === 'alkalinity_runs_out' || m.kind === 'happened' ? null : t(`turn.${name}.not_in_sight`);
  }
  const c = chance(0.75);
  const slots = { word: c.word, number: c.number, date: m.likelyBy === null ? '' : soon(m.likelyBy, ms(outlook.as_of)!, zone).replace(/^about /, ''),
    not_before: m.notBefore === null ? '' : dayMonth(m.notBefore, zone) };
  if (m.kind === 'date') return t(`turn.${name}.date`, slots);
  if (m.notBefore === null) return m.likelyBy === null ? t(`turn.${name}.unknown`) : t(`turn.${name}.by`, slots);
  return m.likelyBy === null ? t(`turn.${name}.not_before`, slots) : t(`turn.${name}.between`, slots);
}

export function fishRisk(outlook: Outlook): { p: number; of: 'free_ammonia' | 'nitrite' } | null {
  if (!outlook.risk.applies) return null;
  const a = outlook.risk.free_ammonia?.within_72_h ?? 0, n = outlook.risk.nitrite?.within_72_h ?? 0;
  return a >= n ? { p: a, of: 'free_ammonia' } : { p: n, of: 'nitrite' };
}

function fishSentence({ outlook, zone }: SentenceInput): string | null {
  const risk = fishRisk(outlook);
  if (risk) {
    const c = chance(risk.p);
    if (risk.p < kRiskSpoken) return t('fish.low_risk', { word: c.word, number: c.number });
    return t(`fish.risk.${risk.of}`, { word: c.word, number: c.number });
  }
  const m = milestone('ready_for_fish', outlook, zone);
  if (!m) return null;
  const c = chance(0.75);
  if (m.kind === 'happened') {
    const p = chance(outlook.stage.name === 'ready' ? outlook.stage.probability : 0.95);
    return t('fish.ready', { word: p.word, number: p.number });
  }
  if (outlook.milestones.ready_for_fish.reached) return t('fish.perhaps');
  if (m.kind === 'date') return t('fish.date', { word: c.word, number: c.number, date: soon(m.likelyBy!, ms(outlook.as_of)!, zone).replace(/^about /, '') });
  if (m.kind === 'not_in_sight' && m.notBefore === null) return t('fish.not_in_sight');
  return m.notBefore !== null ? t('fish.not_before', { date: dayMonth(m.notBefore, zone) }) : t('fish.too_early');
}

export const isStale = (outlook: Outlook, clock: number | null) => clock !== null && clock - ms(outlook.as_of)! > kStaleDays * kDay;

export function sentence(input: SentenceInput): string {
  const parts = [stageSentence(input), turnSentence(input), fishSentence(input)].filter((part): part is string => part !== null);
  if (!isStale(input.outlook, input.clock)) return parts.join(' ');
  const first = parts[0]!;
  parts[0] = t('stage.stale', { date: fullDate(ms(input.outlook.as_of)!, input.zone), rest: first.charAt(0).toLowerCase() + first.slice(1) });
  return parts.join(' ');
}
