// SPDX-License-Identifier: Apache-2.0
// What was dropped on the page: a zip, a loop folder, or one wide sheet; anything else is refused with what to bring instead.
import type { Brought } from '../api';
import { t } from '../locale/text';

export const kLimitBytes = 8 * 1024 * 1024;
export interface Named { name: string; file: File }
export type Sorted = { brought: Brought; name: string; wide: boolean } | { problem: string };

export function sortOut(files: Named[], fields: Record<string, string>): Sorted {
  const base = (path: string) => path.split('/').at(-1)!;
  if (files.length === 0) return { problem: t('bring.nothing') };
  const big = files.find(({ file }) => file.size > kLimitBytes);
  if (big) return { problem: t('bring.too_big', { name: base(big.name), limit: kLimitBytes / 1024 / 1024 }) };
  const zip = files.find(({ name }) => name.toLowerCase().endsWith('.zip'));
  if (zip) {
    return files.length === 1 ? { brought: { zip: zip.file }, name: base(zip.name).replace(/\.zip$/i, ''), wide: false } : { problem: t('bring.one_zip') };
  }
  const toml = files.find(({ name }) => base(name) === 'loop.toml'), log = files.find(({ name }) => base(name) === 'log.csv');
  if (toml && log) {
    const parts = [{ name: 'loop.toml', file: toml.file }, { name: 'log.csv', file: log.file }];
    return { brought: { files: parts, fields: {} }, name: toml.name.split('/').at(-2) ?? '', wide: false };
  }
  if (toml || (log && files.length > 1)) return { problem: t(toml ? 'bring.no_log' : 'bring.no_toml') };
  const sheets = files.filter(({ name }) => /\.(csv|txt)$/i.test(name));
  if (sheets.length !== 1) return { problem: t(sheets.length ? 'bring.many_sheets' : 'bring.no_sheet') };
  const name = base(sheets[0]!.name);
  return { brought: { files: [{ name, file: sheets[0]!.file }], fields }, name: name.replace(/\.\w+$/, ''), wide: true };
}

// Files of a drop, folders opened one level deep and more.
export async function dropped(transfer: DataTransfer): Promise<Named[]> {
  const out: Named[] = [];
  const visit = async (entry: FileSystemEntry | null): Promise<void> => {
    if (!entry || out.length > 50) return;
    if (entry.isFile) {
      const file = await new Promise<File>((done, fail) => (entry as FileSystemFileEntry).file(done, fail));
      out.push({ name: entry.fullPath.replace(/^\//, ''), file });
    } else {
      const reader = (entry as FileSystemDirectoryEntry).createReader();
      const inside = await new Promise<FileSystemEntry[]>((done, fail) => reader.readEntries(done, fail));
      for (const child of inside) await visit(child);
    }
  };
  const entries = [...transfer.items].map((item) => item.webkitGetAsEntry());
  if (entries.some(Boolean)) for (const entry of entries) await visit(entry);
  else for (const file of transfer.files) out.push({ name: file.name, file });
  return out;
}
