// SPDX-License-Identifier: Apache-2.0
// What the reader chose, kept in this browser only.
import { createContext } from 'preact';
import { useContext, useEffect, useState } from 'preact/hooks';
import type { Measures, NitrogenBasis } from './units';

export type Theme = 'system' | 'light' | 'dark';
export interface Settings { measures: Measures; basis: NitrogenBasis; theme: Theme }

const kKey = 'helmwater.settings';
const kDefault: Settings = { measures: 'metric', basis: 'kit', theme: 'system' };
const kAllowed = { measures: ['metric', 'us'], basis: ['kit', 'ion', 'N'], theme: ['system', 'light', 'dark'] } as const;

export function readSettings(text: string | null): Settings {
  const out = { ...kDefault };
  try {
    const kept = JSON.parse(text ?? '{}') as Record<string, string>;
    if ((kAllowed.measures as readonly string[]).includes(kept['measures']!)) out.measures = kept['measures'] as Measures;
    if ((kAllowed.basis as readonly string[]).includes(kept['basis']!)) out.basis = kept['basis'] as NitrogenBasis;
    if ((kAllowed.theme as readonly string[]).includes(kept['theme']!)) out.theme = kept['theme'] as Theme;
  } catch { /* unreadable: the defaults */ }
  return out;
}

function stored(): string | null {
  try { return localStorage.getItem(kKey); } catch { return null; }
}

export const SettingsContext = createContext<[Settings, (change: Partial<Settings>) => void]>([kDefault, () => {}]);
export const useSettings = () => useContext(SettingsContext);

export function useStoredSettings(): [Settings, (change: Partial<Settings>) => void] {
  const [settings, set] = useState(() => readSettings(stored()));
  useEffect(() => {
    if (settings.theme === 'system') delete document.documentElement.dataset['theme'];
    else document.documentElement.dataset['theme'] = settings.theme;
  }, [settings.theme]);
  return [settings, (change) => {
    const next = { ...settings, ...change };
    try { localStorage.setItem(kKey, JSON.stringify(next)); } catch { /* private window: holds until the page closes */ }
    set(next);
  }];
}
