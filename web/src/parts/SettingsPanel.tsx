// SPDX-License-Identifier: Apache-2.0
import { useEffect, useId, useRef, useState } from 'preact/hooks';
import { t, type TextKey } from '../locale/text';
import { useSettings, type Settings } from '../settings';

const kChoices: { name: keyof Settings; values: string[] }[] = [
  { name: 'basis', values: ['kit', 'ion', 'N'] },
  { name: 'measures', values: ['metric', 'us'] },
  { name: 'theme', values: ['system', 'light', 'dark'] },
];

export function SettingsPanel() {
  const [settings, change] = useSettings();
  const [open, setOpen] = useState(false);
  const id = useId();
  const root = useRef<HTMLDivElement>(null), button = useRef<HTMLButtonElement>(null);
  useEffect(() => {
    if (!open) return;
    const outside = (event: Event) => { if (!root.current?.contains(event.target as Node)) setOpen(false); };
    document.addEventListener('pointerdown', outside);
    return () => document.removeEventListener('pointerdown', outside);
  }, [open]);
  const key = (event: KeyboardEvent) => {
    if (event.key !== 'Escape') return;
    setOpen(false);
    button.current?.focus();
  };
  return (
    <div class="settings" ref={root} onKeyDown={key}>
      <button ref={button} type="button" class="textlink" aria-expanded={open} aria-controls={id} onClick={() => setOpen(!open)}>{t('settings')}</button>
      {open && (
        <div class="settings-panel" id={id} role="group" aria-label={t('settings')}>
          {kChoices.map(({ name, values }) => (
            <fieldset key={name}>
              <legend>{t(`settings.${name}` as TextKey)}</legend>
              {values.map((value) => (
                <label key={value} class="choice">
                  <input type="radio" name={name} checked={settings[name] === value} onChange={() => change({ [name]: value } as Partial<Settings>)} />
                  <span>{t(`settings.${name}.${value}` as TextKey)}</span>
                </label>
              ))}
            </fieldset>
          ))}
        </div>
      )}
    </div>
  );
}
