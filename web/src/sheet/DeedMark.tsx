// SPDX-License-Identifier: Apache-2.0
// What was done, on the line above the graphs. Hollow: planned or tried out, not done.

export interface Deed { at: number; kind: string; label: string; share: number | null; planned: boolean; line: number | null }

export function DeedMark({ deed, x, y }: { deed: Deed; x: number; y: number }) {
  const c = deed.planned ? 'deed planned' : 'deed';
  switch (deed.kind) {
    case 'dose': return <path class={c} d={`M${x - 5} ${y - 5}H${x + 5}L${x} ${y + 5}Z`} />;
    case 'water_change': {
      const height = 10 * Math.min(1, Math.max(0.1, deed.share ?? 0.3));
      return <g class={c}><rect class="outline" x={x - 5} y={y - 5} width={10} height={10} />{!deed.planned && <rect x={x - 5} y={y + 5 - height} width={10} height={height} />}</g>;
    }
    case 'top_up': return <path class="deed outline" d={`M${x} ${y - 6}V${y + 5}M${x - 4} ${y + 1}L${x} ${y + 5}L${x + 4} ${y + 1}`} />;
    case 'fish': return <path class="deed outline" d={`M${x - 6} ${y}Q${x} ${y - 6} ${x + 4} ${y}Q${x} ${y + 6} ${x - 6} ${y}M${x + 4} ${y}L${x + 8} ${y - 3}V${y + 3}Z`} />;
    case 'note': return <circle class={c} cx={x} cy={y} r={2} />;
    case 'temperature': return <path class="deed outline planned" d={`M${x - 5} ${y}H${x + 5}M${x} ${y - 5}V${y + 5}`} />;
    default: return <line class="deed outline" x1={x} x2={x} y1={y - 5} y2={y + 5} />;
  }
}
