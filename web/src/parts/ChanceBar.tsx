// SPDX-License-Identifier: Apache-2.0
// A chance as a filled length beside its words; the words carry it, the bar is for the eye.
export function ChanceBar({ p }: { p: number }) {
  return (
    <svg class="chance-bar" aria-hidden="true" width="100%" height="10">
      <rect class="all" x="0.5" y="0.5" width="99.7%" height="9" />
      <rect class="part" x="0" y="0" width={`${(100 * Math.min(1, Math.max(0, p))).toFixed(1)}%`} height="10" />
    </svg>
  );
}
