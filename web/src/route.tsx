// SPDX-License-Identifier: Apache-2.0
// Which screen a path names, and moving between screens without loading the page again.
import type { ComponentChildren } from 'preact';
import { useEffect, useState } from 'preact/hooks';

export type Route = { screen: 'board' } | { screen: 'loop'; id: string } | { screen: 'bring' } | { screen: 'expect' } | { screen: 'unknown' };

export function routeOf(path: string): Route {
  const parts = path.split('/').filter(Boolean);
  if (parts.length === 0) return { screen: 'board' };
  if (parts.length === 2 && parts[0] === 'loops' && /^[a-z0-9_-]+$/.test(parts[1]!)) return { screen: 'loop', id: parts[1]! };
  if (parts.length === 1 && parts[0] === 'bring') return { screen: 'bring' };
  if (parts.length === 1 && parts[0] === 'expect') return { screen: 'expect' };
  return { screen: 'unknown' };
}

const kMoved = 'helmwater:moved';

export function go(path: string) {
  history.pushState(null, '', path);
  window.scrollTo(0, 0);
  window.dispatchEvent(new Event(kMoved));
}

export function useRoute(): Route {
  const [path, set] = useState(location.pathname);
  useEffect(() => {
    const moved = () => set(location.pathname);
    window.addEventListener('popstate', moved);
    window.addEventListener(kMoved, moved);
    return () => { window.removeEventListener('popstate', moved); window.removeEventListener(kMoved, moved); };
  }, []);
  return routeOf(path);
}

interface LinkProps { to: string; class?: string; current?: boolean; children: ComponentChildren }
export function Link({ to, children, current, ...rest }: LinkProps) {
  return (
    <a {...rest} href={to} aria-current={current ? 'page' : undefined} onClick={(event) => {
      if (event.ctrlKey || event.metaKey || event.shiftKey || event.button !== 0) return;
      event.preventDefault();
      go(to);
    }}>{children}</a>
  );
}
