// SPDX-License-Identifier: Apache-2.0
// Dates on the same days as the graphs: thin line nine in ten, block one in two, slit at the middle; hatched: cannot tell yet.
import type { Milestone } from '../words/milestone';
import type { TimeScale } from './scales';

export const kDateRow = 38;

function Bar({ date, x, y }: { date: Milestone; x: TimeScale; y: number }) {
  const clamp = (ms: number | null) => (ms === null ? x.x1 : Math.min(x.x1, Math.max(x.x0, x(ms))));
  if (date.at.p05 === null) return null;
  if (x(date.at.p05) >= x.x1) return <path class="date-line" d={`M${x.x1 - 12} ${y}H${x.x1}M${x.x1 - 6} ${y - 4}L${x.x1} ${y}L${x.x1 - 6} ${y + 4}`} />;
  const a = clamp(date.at.p05), b = clamp(date.at.p25), m = clamp(date.at.p50), c = clamp(date.at.p75), d = clamp(date.at.p95);
  const open = date.at.p95 === null || x(date.at.p95) > x.x1;
  const words = date.kind === 'cannot_tell' || date.kind === 'not_in_sight';
  const end = open ? `M${x.x1 - 6} ${y - 4}L${x.x1} ${y}L${x.x1 - 6} ${y + 4}` : `M${d} ${y - 4}V${y + 4}`;
  return (
    <g>
      <path class="date-line" d={`M${a} ${y - 4}V${y + 4}M${a} ${y}H${d}${end}`} />
      {date.at.p25 !== null && c > b && (words
        ? <rect class="date-hatched" x={b} y={y - 4.5} width={Math.max(3, Math.min(c, x.x1 - 8) - b)} height={9} />
        : <rect class="date-block" x={b} y={y - 4.5} width={Math.max(3, c - b)} height={9} />)}
      {!words && date.at.p50 !== null && c - b > 8 && <line class="date-slit" x1={m} x2={m} y1={y - 5} y2={y + 5} />}
    </g>
  );
}

export function DateBars({ dates, x, top }: { dates: Milestone[]; x: TimeScale; top: number }) {
  return (
    <g class="dates">
      <defs>
        <pattern id="hatch" width="5" height="5" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
          <line class="hatch" x1="0" x2="0" y1="0" y2="5" />
        </pattern>
      </defs>
      {dates.map((date, k) => {
        const y = top + k * kDateRow;
        return (
          <g key={date.name}>
            <text class="date-name" x={x.x0} y={y + 14}>{date.label}</text>
            <text class={date.kind === 'cannot_tell' ? 'date-when remark' : 'date-when'} x={x.x1} y={y + 14} text-anchor="end">{date.headline}</text>
            <Bar date={date} x={x} y={y + 26} />
            <line class="hairline" x1={x.x0} x2={x.x1} y1={y + kDateRow - 2} y2={y + kDateRow - 2} />
          </g>
        );
      })}
    </g>
  );
}
