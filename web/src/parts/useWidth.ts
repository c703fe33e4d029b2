// SPDX-License-Identifier: Apache-2.0
// Width of an element in CSS pixels, kept current.
import type { RefObject } from 'preact';
import { useLayoutEffect, useRef, useState } from 'preact/hooks';

export function useWidth<E extends HTMLElement>(): [RefObject<E>, number] {
  const ref = useRef<E>(null);
  const [width, set] = useState(0);
  useLayoutEffect(() => {
    const element = ref.current!;
    const measure = () => set(Math.round(element.getBoundingClientRect().width));
    measure();
    const observer = new ResizeObserver(measure);
    observer.observe(element);
    return () => observer.disconnect();
  }, []);
  return [ref, width];
}
