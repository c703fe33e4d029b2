// SPDX-License-Identifier: Apache-2.0
// Prints how large the built page is and fails when its scripts pass 90 kB (90,000 bytes) after gzip, or when the page holds
// anything inline or from elsewhere.
import { readdirSync, readFileSync } from 'node:fs';
import { gzipSync } from 'node:zlib';

const kLimitBytes = 90_000;
const assets = new URL('../dist/assets/', import.meta.url);
let scripts = 0;
for (const name of readdirSync(assets)) {
  const bytes = gzipSync(readFileSync(new URL(name, assets)), { level: 9 }).length;
  if (name.endsWith('.js')) scripts += bytes;
  console.log(`${name}: ${(bytes / 1000).toFixed(1)} kB gzip`);
}
const page = readFileSync(new URL('../dist/index.html', import.meta.url), 'utf8');
const problems = [];
if (scripts > kLimitBytes) problems.push(`scripts are ${scripts} bytes gzip, allowed are ${kLimitBytes}: split or drop something`);
if (/<script(?![^>]*\bsrc=)/.test(page)) problems.push('index.html holds an inline script, which the content policy refuses');
if (/<style|\sstyle=/.test(page)) problems.push('index.html holds inline style, which the content policy refuses');
if (/(src|href)="(https?:)?\/\//.test(page)) problems.push('index.html asks another host for something');
for (const problem of problems) console.error(`web build: ${problem}`);
console.log(`scripts together: ${(scripts / 1000).toFixed(1)} kB gzip of ${kLimitBytes / 1000} kB`);
process.exit(problems.length ? 1 : 0);
