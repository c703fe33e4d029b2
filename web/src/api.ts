// SPDX-License-Identifier: Apache-2.0
// Everything the page asks of the server. Failures become ApiError with a sentence that says what to do.
import type { ExpectWish, FishAnswer, FishWish, LoopLine, Outlook, Preview, SheetData, Track, WhatIfAnswer, WhatIfWish, Why } from './contract';

export class ApiError extends Error {
  constructor(readonly status: number, readonly code: string, message: string, readonly field: string | null) { super(message); }
}

async function ask<T>(path: string, init: RequestInit = {}): Promise<T> {
  let answer: Response;
  try {
    answer = await fetch(path, { ...init, headers: { Accept: 'application/json', 'X-Helmwater': '1', ...init.headers } });
  } catch (cause) {
    if (cause instanceof DOMException && cause.name === 'AbortError') throw cause;
    throw new ApiError(0, 'no_answer', '', null);
  }
  let body: unknown = null;
  try { body = await answer.json(); } catch { /* a body that is no JSON says nothing more than its status */ }
  if (answer.ok && body !== null) return body as T;
  const told = (body ?? {}) as { code?: string; message?: string; field?: string };
  throw new ApiError(answer.status, told.code ?? 'unknown', told.message ?? '', told.field ?? null);
}

const loopPath = (id: string) => `/api/loops/${encodeURIComponent(id)}`;

export const listLoops = (signal?: AbortSignal) => ask<{ loops: LoopLine[] }>('/api/loops', { signal });
export const loopSheet = (id: string, signal?: AbortSignal) => ask<SheetData>(loopPath(id), { signal });
export const loopOutlook = (id: string, signal?: AbortSignal) => ask<Outlook>(`${loopPath(id)}/outlook`, { signal });
export const loopWhy = (id: string, signal?: AbortSignal) => ask<Why>(`${loopPath(id)}/why`, { signal });
// Of one loop, or of all together.
export const trackRecord = (id: string | null, signal?: AbortSignal) => ask<Track>(id === null ? '/api/track' : `${loopPath(id)}/track`, { signal });

const question = (wish: unknown, signal?: AbortSignal): RequestInit =>
  ({ method: 'POST', body: JSON.stringify(wish), headers: { 'Content-Type': 'application/json' }, signal });
export const whatIf = (id: string, wish: WhatIfWish, signal?: AbortSignal) => ask<WhatIfAnswer>(`${loopPath(id)}/what-if`, question(wish, signal));
export const fishPlan = (id: string, wish: FishWish, signal?: AbortSignal) => ask<FishAnswer>(`${loopPath(id)}/fish`, question(wish, signal));

export function expectOutlook(wish: ExpectWish, signal?: AbortSignal) {
  const query = new URLSearchParams();
  for (const [key, value] of Object.entries(wish)) if (value !== null && value !== '') query.set(key, String(value));
  return ask<Outlook>(`/api/expect?${query}`, { signal });
}

// What the owner brought: one zip, or files with the answers a wide sheet needs beside it.
export type Brought = { zip: File } | { files: { name: string; file: File }[]; fields: Record<string, string> };

function bodyOf(brought: Brought): RequestInit {
  if ('zip' in brought) return { body: brought.zip, headers: { 'Content-Type': 'application/zip' } };
  const form = new FormData();
  for (const [key, value] of Object.entries(brought.fields)) if (value !== '') form.append(key, value);
  for (const { name, file } of brought.files) form.append(name, file, name);
  return { body: form };
}

export const preview = (brought: Brought, signal?: AbortSignal) =>
  ask<Preview>('/api/preview', { method: 'POST', ...bodyOf(brought), signal });
export const keep = (brought: Brought, name: string) =>
  ask<{ id: string }>(`/api/loops?name=${encodeURIComponent(name)}`, { method: 'POST', ...bodyOf(brought) });
