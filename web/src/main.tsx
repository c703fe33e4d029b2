// SPDX-License-Identifier: Apache-2.0
import { render } from 'preact';
import { useEffect, useRef } from 'preact/hooks';
import { t } from './locale/text';
import { SettingsContext, useStoredSettings } from './settings';
import { useRoute } from './route';
import { Board } from './screens/Board';
import { Bring } from './screens/Bring';
import { Expect } from './screens/Expect';
import { LoopPage } from './screens/LoopPage';
import { Unknown } from './screens/Unknown';
import './styles/tokens.css';
import './styles/base.css';
import './styles/sheet.css';
import './styles/screens.css';
import './styles/print.css';

function App() {
  const route = useRoute();
  const settings = useStoredSettings();
  const first = useRef(true);
  const key = JSON.stringify(route);
  useEffect(() => {
    if (!first.current) document.getElementById('main')?.focus();
    first.current = false;
  }, [key]);
  return (
    <SettingsContext.Provider value={settings}>
      <a class="skip" href="#main">{t('skip')}</a>
      {route.screen === 'board' ? <Board />
        : route.screen === 'loop' ? <LoopPage key={route.id} id={route.id} />
        : route.screen === 'bring' ? <Bring />
        : route.screen === 'expect' ? <Expect />
        : <Unknown />}
    </SettingsContext.Provider>
  );
}

render(<App />, document.getElementById('page')!);
