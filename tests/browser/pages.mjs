// SPDX-License-Identifier: Apache-2.0
// Chromium pages that note every console error, and what is checked on each of them.
import assert from 'node:assert/strict';
import { mkdirSync, readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { join } from 'node:path';
import { root } from './program.mjs';

const require = createRequire(join(root, 'web/package.json'));
const { chromium } = require('playwright-core');
const axe = readFileSync(require.resolve('axe-core/axe.min.js'), 'utf8');
const screens = join(root, 'build/screens');
mkdirSync(screens, { recursive: true });

export const kWidths = [390, 1400];

export const launch = () => chromium.launch({
  executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
  args: ['--no-sandbox', '--disable-background-networking', '--disable-component-update', '--disable-default-apps', '--disable-sync', '--no-first-run'],
});

export async function open(browser, base, path, { width = 1400, theme = 'light', allow = /$^/ } = {}) {
  const context = await browser.newContext({ viewport: { width, height: width < 500 ? 844 : 900 }, colorScheme: theme, reducedMotion: 'reduce', hasTouch: width < 500, bypassCSP: false });
  const page = await context.newPage();
  const errors = [], elsewhere = [];
  page.on('console', (message) => { if (message.type() === 'error' && !allow.test(message.text())) errors.push(message.text()); });
  page.on('pageerror', (error) => errors.push(error.message));
  page.on('request', (request) => { if (/^https?:/.test(request.url()) && !request.url().startsWith(base)) elsewhere.push(request.url()); });
  await page.goto(base + path);
  return {
    page,
    async shot(name) { await page.screenshot({ path: join(screens, `${name}-${width}${theme === 'dark' ? '-dark' : ''}.png`), fullPage: true }); },
    // The rules of axe-core; its script is handed to the page through the debugger, so the content policy stays in force.
    async check() {
      await page.evaluate(axe);
      const { violations } = await page.evaluate(() => globalThis.axe.run(document, { resultTypes: ['violations'] }));
      assert.deepEqual(violations.map((rule) => `${rule.id}: ${rule.nodes.map((node) => node.target.join(' ')).join(', ')}`), []);
      const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
      assert.ok(wide <= 0, `the page is ${wide} px wider than its window`);
    },
    async close() {
      await context.close();
      assert.deepEqual(errors, [], 'console errors');
      assert.deepEqual(elsewhere, [], 'requests to other hosts');
    },
  };
}
