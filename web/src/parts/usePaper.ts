// SPDX-License-Identifier: Apache-2.0
// True while the page is being printed.
import { useEffect, useState } from 'preact/hooks';

export function usePaper(): boolean {
  const [paper, set] = useState(false);
  useEffect(() => {
    const on = () => set(true), off = () => set(false);
    window.addEventListener('beforeprint', on);
    window.addEventListener('afterprint', off);
    return () => { window.removeEventListener('beforeprint', on); window.removeEventListener('afterprint', off); };
  }, []);
  return paper;
}
