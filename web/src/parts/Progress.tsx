// SPDX-License-Identifier: Apache-2.0
// Work that takes longer than 300 ms: what is being done, and a bar that fills as long as it usually takes.
import { useEffect, useState } from 'preact/hooks';

export function Progress({ text, usualMs }: { text: string; usualMs: number }) {
  const [passed, set] = useState(0);
  useEffect(() => {
    const start = performance.now();
    const timer = setInterval(() => set(performance.now() - start), 200);
    return () => clearInterval(timer);
  }, []);
  const share = Math.round(100 * (1 - Math.exp(-1.5 * passed / usualMs)));
  return (
    <div class="progress" role="status">
      <p class="small">{text}</p>
      <progress max={100} value={share} aria-label={text} />
    </div>
  );
}
