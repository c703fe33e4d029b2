// SPDX-License-Identifier: Apache-2.0
// What went wrong and what to do next.
import type { ApiError } from '../api';
import { t } from '../locale/text';

export function errorText(error: ApiError): string {
  if (error.status === 0) return t('error.no_answer');
  if (error.message) return error.message;
  return error.status >= 500 ? t('error.server') : t('error.other', { status: error.status });
}

export function ErrorNote({ error, again }: { error: ApiError; again?: () => void }) {
  return (
    <div class="error" role="alert">
      <p>{errorText(error)}</p>
      {again && <button type="button" onClick={again}>{t('try_again')}</button>}
    </div>
  );
}
