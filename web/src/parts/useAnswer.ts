// SPDX-License-Identifier: Apache-2.0
// An answer of the server, asked again whenever `key` changes. The old answer stays until the new one is there; `slow` turns
// true after 300 ms without one.
import { useEffect, useState } from 'preact/hooks';
import { ApiError } from '../api';

export interface Answer<T> { value: T | null; error: ApiError | null; waiting: boolean; slow: boolean; again: () => void }

export const kSlowAfterMs = 300;

export function asApiError(cause: unknown): ApiError {
  return cause instanceof ApiError ? cause : new ApiError(-1, 'page', cause instanceof Error ? cause.message : String(cause), null);
}

// key null: nothing is asked.
export function useAnswer<T>(key: string | null, ask: (signal: AbortSignal) => Promise<T>, delayMs = 0): Answer<T> {
  const [state, set] = useState<Omit<Answer<T>, 'again'>>({ value: null, error: null, waiting: key !== null, slow: false });
  const [round, next] = useState(0);
  useEffect(() => {
    if (key === null) return;
    const abort = new AbortController();
    let slow: ReturnType<typeof setTimeout> | undefined;
    const start = setTimeout(() => {
      set((before) => ({ ...before, waiting: true, slow: false }));
      slow = setTimeout(() => set((before) => ({ ...before, slow: before.waiting })), kSlowAfterMs);
      ask(abort.signal).then(
        (value) => set({ value, error: null, waiting: false, slow: false }),
        (cause: unknown) => {
          if (!abort.signal.aborted) set((before) => ({ ...before, error: asApiError(cause), waiting: false, slow: false }));
        }).finally(() => clearTimeout(slow));
    }, delayMs);
    return () => { abort.abort(); clearTimeout(start); clearTimeout(slow); };
  }, [key, round]);
  return { ...state, again: () => next((k) => k + 1) };
}
