// SPDX-License-Identifier: Apache-2.0
// The sheet: deeds, readings, outlook and dates under each other on the same days. Pointer, finger or arrow keys draw one hair
// through all panels and print that day's values.
import { useId, useMemo, useState } from 'preact/hooks';
import type { Entry, Kit, Outlook } from '../contract';
import { t } from '../locale/text';
import { useSettings } from '../settings';
import { usePaper } from '../parts/usePaper';
import { useWidth } from '../parts/useWidth';
import { civil, clock, dayMonth, dayNumber, kDay, ms, nextDay, startOfDay, weekdayDate } from '../words/dates';
import type { LetteredDoubt } from '../words/doubts';
import type { Milestone } from '../words/milestone';
import { bandPath, linePath, valueAt } from './bands';
import { DateBars, kDateRow } from './DateBars';
import { DeedMark, type Deed } from './DeedMark';
import { layoutOf, type Layout, type Panel } from './panels';
import { ReadingMark } from './ReadingMark';
import { labelled, ticks } from './scales';
import { SheetTables } from './SheetTables';
import { rangeText, shownNumber } from './table';
import { kWindows, windowOf, type WindowChoice } from './window';

export interface SheetProps {
  outlook: Outlook; entries: Entry[]; kits: Kit[]; zone: string; dates: Milestone[]; doubts: LetteredDoubt[]; story: string;
  nowLabel: string; old?: Outlook | null; oldLabel?: string; planned?: Deed[]; name: string;
}

const kQuestionRoom = 130;  // px a question beside a mark takes; to the left where it fits, as the courses ahead lie right
const kPaperWidth = 688;  // px between the margins of an A4 page; the dates stand in words below

export function deedsOf(entries: Entry[]): Deed[] {
  return entries.flatMap((entry) => {
    if (!entry.when || entry.reading || entry.kind === 'reading') return [];
    const share = entry.unit === '%' ? Number(entry.value) / 100 : null;
    return { at: Date.parse(entry.when), kind: entry.kind, label: entry.label ?? '', share, planned: false, line: entry.line };
  });
}

const short = (label: string) => /^[\d.,]+\s*\S+/.exec(label)?.[0] ?? '';

function Deeds({ deeds, layout, now }: { deeds: Deed[]; layout: Layout; now: number }) {
  let free = layout.x.x0 - 20;
  const placed = deeds.map((deed, k) => {
    const x = layout.x(deed.at), text = deed.kind === 'dose' || deed.kind === 'top_up' || deed.kind === 'water_change' ? short(deed.label) : '';
    const end = x + 14 + text.length * 6.4, next = deeds[k + 1];
    const room = !layout.phone && x > free && text !== '' && !(x < layout.x(now) && end > layout.x(now) + 2) && !(next && layout.x(next.at) - 6 < end);
    if (room) free = end;
    return { deed, x, text: room ? text : '' };
  });
  return (
    <g>
      {placed.map(({ deed, x, text }, k) => (
        <g key={k}>
          {(deed.kind === 'dose' || deed.kind === 'water_change') && <line class="deed-hair" x1={x} x2={x} y1={26} y2={layout.plotBottom} />}
          <DeedMark deed={deed} x={x} y={16} />
          {text && <text class="tick" x={x + 9} y={20}>{text}</text>}
        </g>
      ))}
    </g>
  );
}

function PanelView({ panel, layout, now, hair, letters, asked }: { panel: Panel; layout: Layout; now: number; hair: number | null; letters: Map<number, string>; asked: Map<number, string> }) {
  const { x, phone } = layout;
  const { test, y, points, old } = panel;
  const behind = points.filter((point) => point.at <= now), ahead = points.filter((point) => point.at >= now);
  const all = useMemo(() => ticks(test, panel.steps, y), [panel]);
  const top = panel.steps.at(-1);
  const q = valueAt(panel.all, hair ?? now);
  const xNow = x(now), right = phone || layout.width - xNow < 190 || xNow - x.x0 < 190 || hair !== null;
  return (
    <g class={`t-${test}`}>
      {all.map((tick) => <line key={tick.value} class="grid" x1={x.x0} x2={x.x1} y1={y(tick.value)} y2={y(tick.value)} />)}
      {labelled(all, y, 13).filter((tick) => y(tick.value) > panel.top + 16).map((tick) => (
        <text key={tick.value} class={tick.beyond ? 'tick beyond' : 'tick'} x={x.x0 - 6} y={Math.min(y(tick.value), panel.bottom - 2) + 4} text-anchor="end">
          {test === 'ph' ? +tick.value.toFixed(1) : +tick.value.toPrecision(2)}
        </text>
      ))}
      <line class="axis" x1={x.x0} x2={x.x1} y1={panel.bottom} y2={panel.bottom} />
      <path class="band wide" d={bandPath(points, 'p05', 'p95', x, y)} />
      <path class="band half" d={bandPath(points, 'p25', 'p75', x, y)} />
      {old.length > 1 && <path class="old" d={linePath(old, 'p05', x, y) + linePath(old, 'p95', x, y)} />}
      <path class="middle" d={linePath(behind, 'p50', x, y)} />
      <path class="middle ahead" d={linePath(ahead, 'p50', x, y)} />
      {top !== undefined && test !== 'ph' && test !== 'alkalinity' && top < y.high * 0.99 && (
        <g>
          <line class="chart-end" x1={x.x0} x2={x.x1} y1={y(top)} y2={y(top)} />
          {y(top) > panel.top + 40 && xNow - x.x0 > 130 && <text class="remark halo" x={x.x0 + 5} y={y(top) - 5}>{t('sheet.chart_ends')}</text>}
        </g>
      )}
      {[...panel.marks].sort((a, b) => Number(asked.has(a.entry.line)) - Number(asked.has(b.entry.line))).map((mark) => <ReadingMark key={mark.entry.line} mark={mark} x={x(mark.at)} y={y} floor={panel.bottom} letter={letters.get(mark.entry.line) ?? null} question={asked.get(mark.entry.line) ?? null}
        toLeft={x(mark.at) - x.x0 > kQuestionRoom} />)}
      <text class="panel-name halo" x={phone ? x.x0 : x.x0} y={panel.top + 17}>
        <tspan class="strong">{t(`test.${test}`)}</tspan>{!phone && panel.shown.unit && <tspan class="unit" dx="6">{panel.shown.unit}</tspan>}
      </text>
      {q && (
        <text class={xNow < x.x1 - 120 ? 'panel-name halo ahead-halo' : 'panel-name halo'} x={right ? x.x1 - 2 : xNow + 8} y={panel.top + 17} text-anchor={right ? 'end' : 'start'}>
          <tspan class="strong">{shownNumber(test, q.p50)}</tspan><tspan class="unit" dx="4">({rangeText(test, q)}){phone && ` ${panel.shown.unit}`}</tspan>
        </text>
      )}
    </g>
  );
}

function Ruler({ layout, zone, now, nowLabel }: { layout: Layout; zone: string; now: number; nowLabel: string }) {
  const { x, plotBottom: y } = layout;
  const days: number[] = [];
  for (let day = startOfDay(x.from, zone); day <= x.to; day = nextDay(day, zone)) if (day >= x.from) days.push(day);
  const mondays = days.filter((day) => civil(day + kDay / 2, zone).weekday === 'Mon');
  const every = Math.max(1, Math.ceil(70 / Math.max(1, (x(mondays[1] ?? 7 * kDay) - x(mondays[0] ?? 0)))));
  const half = nowLabel.length * 3.4, xNow = Math.min(Math.max(x(now), x.x0 + half), x.x1 - half);
  return (
    <g>
      {days.map((day) => {
        const monday = mondays.includes(day);
        return <line key={day} class="axis" x1={x(day)} x2={x(day)} y1={y} y2={y + (monday ? 8 : 4)} />;
      })}
      {mondays.map((day, k) => (
        <g key={day}>
          <line class="monday" x1={x(day)} x2={x(day)} y1={layout.deedsBottom} y2={y} />
          {k % every === 0 && Math.abs(x(day) - xNow) > half + 26 && x(day) < x.x1 - 18 && x(day) > x.x0 + 8 &&
            <text class="tick" x={x(day)} y={y + 23} text-anchor="middle">{dayMonth(day + kDay / 2, zone)}</text>}
        </g>
      ))}
      <text class="now-label" x={xNow} y={y + 23} text-anchor="middle">{nowLabel}</text>
    </g>
  );
}

export function Sheet(props: SheetProps) {
  const { outlook, entries, kits, zone, dates, doubts, story, old } = props;
  const [settings] = useSettings();
  const [ref, width] = useWidth<HTMLDivElement>();
  const [choice, choose] = useState<WindowChoice>('usual');
  const [hair, setHair] = useState<number | null>(null);
  const id = useId();
  const paper = usePaper();
  const now = ms(outlook.as_of)!;
  const layout = useMemo(() => layoutOf({ outlook, old, entries, kits, basis: settings.basis, width: paper ? kPaperWidth : Math.max(300, width || 300), paper, window: windowOf(choice, outlook, zone) }),
    [outlook, old, entries, kits, settings.basis, width, choice, zone, paper]);
  const { x } = layout;
  const letters = new Map(doubts.map((doubt) => [doubt.entry.line, doubt.letter]));
  const asked = new Map(doubts.flatMap((doubt) => (doubt.asks ? [[doubt.entry.line, t(`sheet.${doubt.asks}`)] as const] : [])));
  const deeds = [...deedsOf(entries), ...(props.planned ?? [])].filter((deed) => deed.at >= x.from && deed.at <= x.to).sort((a, b) => a.at - b.at);
  const datesTop = layout.height + 6, height = paper ? layout.height : datesTop + dates.length * kDateRow;
  const xNow = x(now);

  const hold = (at: number) => setHair(Math.min(x.to, Math.max(x.from, at)));
  const point = (event: PointerEvent) => {
    const box = (event.currentTarget as Element).getBoundingClientRect();
    hold(x.back(event.clientX - box.left + x.x0));
  };
  const key = (event: KeyboardEvent) => {
    const step = (event.shiftKey ? 7 : 1) * kDay, from = hair ?? now;
    if (event.key === 'ArrowRight' || event.key === 'ArrowUp') hold(from + step);
    else if (event.key === 'ArrowLeft' || event.key === 'ArrowDown') hold(from - step);
    else if (event.key === 'Home') hold(x.from);
    else if (event.key === 'End') hold(x.to);
    else if (event.key === '0' || event.key === 'Escape') setHair(null);
    else {
      const doubt = doubts.find((candidate) => candidate.letter === event.key);
      if (!doubt) return;
      document.getElementById(`doubt-${doubt.letter}`)?.focus();
    }
    event.preventDefault();
  };
  const at = hair ?? now;
  const spoken = t('sheet.hair', {
    date: `${weekdayDate(at, zone)} ${clock(at, zone)}`,
    values: layout.panels.flatMap((panel) => {
      const q = valueAt(panel.all, at);
      return q ? t('sheet.hair_value', { test: t(`test.${panel.test}`), middle: shownNumber(panel.test, q.p50), range: rangeText(panel.test, q), unit: panel.shown.unit }) : [];
    }).join('; '),
  });
  const noted = layout.panels.flatMap((panel) => panel.marks.filter((mark) => letters.has(mark.entry.line))
    .map((mark) => ({ letter: letters.get(mark.entry.line)!, x: x(mark.at), y: mark.high !== null ? panel.y(mark.high) : panel.top + 20 })));

  return (
    <figure class="sheet" aria-label={t('sheet.figure', { name: props.name })}>
      <div class="sheet-space" ref={ref}>
        {width > 0 && <>
          <svg role="img" aria-labelledby={`${id}-title ${id}-desc`} viewBox={`0 0 ${layout.width} ${height}`} width={layout.width} height={height}>
            <title id={`${id}-title`}>{t('sheet.figure', { name: props.name })}</title>
            <desc id={`${id}-desc`}>{story}</desc>
            <rect class="ahead-paper" x={xNow} y={0} width={Math.max(0, x.x1 - xNow)} height={layout.plotBottom} />
            {!layout.phone && <text class="tick" x={x.x0 - 6} y={20} text-anchor="end">{t('sheet.done')}</text>}
            <line class="hairline" x1={x.x0} x2={x.x1} y1={layout.deedsBottom - 4} y2={layout.deedsBottom - 4} />
            <Ruler layout={layout} zone={zone} now={now} nowLabel={layout.phone ? dayMonth(now, zone) : props.nowLabel} />
            {layout.panels.map((panel) => <PanelView key={panel.test} panel={panel} layout={layout} now={now} hair={hair} letters={letters} asked={asked} />)}
            <Deeds deeds={deeds} layout={layout} now={now} />
            <line class="now" x1={xNow} x2={xNow} y1={0} y2={layout.plotBottom + 8} />
            {hair !== null && <g>
              <line class="hair" x1={x(hair)} x2={x(hair)} y1={24} y2={layout.plotBottom} />
              <text class="now-label halo" x={Math.min(Math.max(x(hair), x.x0 + 60), x.x1 - 60)} y={12} text-anchor="middle">{`${weekdayDate(hair, zone)} ${clock(hair, zone)}`}</text>
            </g>}
            {!paper && <DateBars dates={dates} x={x} top={datesTop} />}
          </svg>
          <div class="hair-space" role="slider" tabIndex={0} aria-label={t('sheet.slider')} aria-orientation="horizontal"
            aria-valuemin={dayNumber(x.from, ms(outlook.started)!, zone)} aria-valuemax={dayNumber(x.to, ms(outlook.started)!, zone)}
            aria-valuenow={dayNumber(at, ms(outlook.started)!, zone)} aria-valuetext={spoken}
            style={{ left: `${x.x0}px`, width: `${x.x1 - x.x0}px`, height: `${layout.plotBottom}px` }}
            onPointerMove={point} onPointerDown={point} onPointerLeave={(event) => { if (event.pointerType === 'mouse') setHair(null); }}
            onDblClick={() => { setHair(null); choose('usual'); }} onKeyDown={key} onBlur={() => setHair(null)} />
          {noted.map((note) => (
            <a key={note.letter} class="letter-link" id={`mark-${note.letter}`} href={`#doubt-${note.letter}`} aria-label={t('doubts.to_note', { letter: note.letter })}
              style={{ left: `${note.x - 14}px`, top: `${Math.max(0, note.y - 24)}px` }} />
          ))}
        </>}
      </div>
      {old && <p class="small legend">{props.oldLabel}</p>}
      <div class="row sheet-choices" role="group" aria-label={t('sheet.days')}>
        {kWindows.map((name) => (
          <button key={name} type="button" class="textlink" aria-pressed={choice === name} onClick={() => choose(name)}>{t(`sheet.window.${name}`)}</button>
        ))}
      </div>
      <SheetTables panels={layout.panels} now={now} to={x.to} zone={zone} />
    </figure>
  );
}
