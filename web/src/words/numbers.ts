// SPDX-License-Identifier: Apache-2.0
// Numbers as people read them: two significant digits, no digits that claim more than is known.

export function amount(value: number): string {
  if (!Number.isFinite(value)) return '–';
  const size = Math.abs(value);
  if (size < 0.005) return '0';
  if (size < 0.0995) return value.toFixed(2);
  if (size < 0.995) return trimmed(value.toFixed(2));
  if (size < 9.95) return value.toFixed(1);
  if (size < 99.5) return value.toFixed(0);
  return grouped(Math.round(value / 10) * 10);
}

const trimmed = (text: string) => text.replace(/0$/, '');

// A thin space between thousands, as numbers of both styles of comma can be read with it.
export const grouped = (value: number) => String(Math.round(value)).replace(/\B(?=(\d{3})+$)/g, '\u202f');
// Sentences of the server, with real subscripts and the sign of a degree.
export const formulas = (text: string) => text.replace(/\bdegC\b/g, '°C').replace(/\b(CaCO|NH|NO)([2-4])\b/g, (_, stem: string, digit: string) => stem + '₂₃₄'.charAt(Number(digit) - 2));

export const ph = (value: number) => value.toFixed(1);

// Grams for a kitchen scale, towards the smaller amount.
export function grams(value: number): string {
  if (value < 10) return (Math.floor(value * 10 + 1e-9) / 10).toFixed(1);
  if (value < 100) return String(Math.floor(value + 1e-9));
  return grouped(Math.floor(value / 5 + 1e-9) * 5);
}
