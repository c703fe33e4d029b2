// SPDX-License-Identifier: Apache-2.0
// The foot of the printed page: units, basis, and the log it rests on.
import type { LoopFacts, Outlook } from '../contract';
import { t } from '../locale/text';
import { useSettings } from '../settings';
import { kitOf, litres, shownAs } from '../units';
import { fullDate, ms } from '../words/dates';
import { grouped } from '../words/numbers';

export function volumeText(loop: LoopFacts, measures: 'metric' | 'us'): string {
  const value = typeof loop.volume_l === 'number' ? loop.volume_l : loop.volume_l?.value;
  if (value === undefined) return '–';
  const shown = litres(value, measures);
  return `${grouped(shown.value)} ${shown.unit}`;
}

export function PrintFoot({ loop, outlook }: { loop: LoopFacts; outlook: Outlook }) {
  const [settings] = useSettings();
  const unit = (test: 'ammonia' | 'nitrite' | 'nitrate' | 'alkalinity') => shownAs(test, settings.basis, kitOf(loop.kits, test)).unit;
  return (
    <p class="print-foot">
      {t('print.foot', { name: loop.name, volume: volumeText(loop, settings.measures), date: fullDate(ms(outlook.as_of)!, loop.time_zone), zone: loop.time_zone,
        ammonia: unit('ammonia'), nitrite: unit('nitrite'), nitrate: unit('nitrate'), alkalinity: unit('alkalinity'), engine: outlook.engine })}
    </p>
  );
}
