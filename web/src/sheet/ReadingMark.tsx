// SPDX-License-Identifier: Apache-2.0
// A reading as the interval it is. The form of the mark says how it was read; dashed and hollow: in doubt.
import type { PanelMark } from './panels';
import type { Scale } from './scales';

const kArrow = 24;  // px; an open end claims no height

interface Props { mark: PanelMark; x: number; y: Scale; floor: number; letter: string | null; question: string | null; toLeft: boolean }
export function ReadingMark({ mark, x, y, floor, letter, question, toLeft }: Props) {
  const { form, doubted } = mark.entry.reading!;
  const hollow = letter !== null || doubted;
  const low = mark.low === null ? null : Math.min(y(mark.low), floor), high = mark.high === null ? null : y(mark.high);
  const dot = form === 'step' ? mark.step ?? mark.centre : null;
  const tick = form === 'about' || form === 'metered' || form === 'number' ? mark.step ?? mark.centre : null;
  const from = low ?? Math.min((high ?? floor) + kArrow, floor), to = high ?? Math.max(from - kArrow, 4);
  const hint = form === 'hint';
  const top = Math.min(to, from) - 6;
  return (
    <g class={`mark${hollow ? ' doubt' : ''}`}>
      <line class={form === 'between' ? 'stem thick' : 'stem'} x1={x} x2={x} y1={from - (hint ? 3 : 0)} y2={to} />
      {low !== null && !hint && <line class="stem cap" x1={x - 4} x2={x + 4} y1={from} y2={from} />}
      {high !== null && <line class="stem cap" x1={x - 4} x2={x + 4} y1={to} y2={to} />}
      {hint && <circle class="hollow" cx={x} cy={from - 1} r={2.6} />}
      {high === null && <path class="stem open" d={`M${x - 4} ${to + 6}L${x} ${to}L${x + 4} ${to + 6}`} />}
      {low === null && <path class="stem open" d={`M${x - 4} ${from - 6}L${x} ${from}L${x + 4} ${from - 6}`} />}
      {dot !== null && <circle class={hollow ? 'hollow' : 'dot'} cx={x} cy={y(dot)} r={2.8} />}
      {tick !== null && <line class="stem" x1={x - 3} x2={x + 3} y1={y(tick)} y2={y(tick)} />}
      {letter !== null && <text class="letter" x={x} y={Math.max(top, 12)} text-anchor="middle">{letter}</text>}
      {question !== null && <text class="remark halo" x={toLeft ? x - 11 : x + 11} y={Math.max(top, 12)} text-anchor={toLeft ? 'end' : 'start'}>{question}</text>}
    </g>
  );
}
