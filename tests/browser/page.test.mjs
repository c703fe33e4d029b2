// SPDX-License-Identifier: Apache-2.0
// The flows of the page in a real browser, at the width of a phone and of a desk.
import assert from 'node:assert/strict';
import { after, before, describe, it } from 'node:test';
import { join } from 'node:path';
import { kWidths, launch, open } from './pages.mjs';
import { demo, startProgram } from './program.mjs';

let program, browser;
before(async () => { program = await startProgram(); browser = await launch(); });
after(async () => { await browser?.close(); await program?.stop(); });

const kLoop = '/loops/north-bench';
const ready = (page) => page.locator('.sheet svg').first().waitFor();
const fillFish = async (page, values) => { for (const [label, value] of Object.entries(values)) await page.getByLabel(label).fill(value); };

for (const width of kWidths) {
  for (const theme of ['light', 'dark']) {
    describe(`${width} px, ${theme}`, () => {
      it('lists all loops and leads to one', async () => {
        const view = await open(browser, program.url, '/', { width, theme });
        await view.page.locator('h1', { hasText: /need/ }).waitFor({ timeout: 60_000 });
        assert.ok(await view.page.locator('.board-loop .strong').count() >= 4);
        assert.equal(await view.page.locator('.ranks').count(), 0, 'the track record of all loops waits to be asked for');
        await view.check();
        await view.shot('board');
        await view.page.getByRole('link', { name: 'North bench' }).click();
        await ready(view.page);
        assert.equal(new URL(view.page.url()).pathname, kLoop);
        await view.page.goBack();
        await view.page.locator('.board-loop').first().waitFor();
        await view.close();
      });

      it('shows an outlook: sentence, act, sheet, dates, doubts, table', async () => {
        const view = await open(browser, program.url, kLoop, { width, theme });
        const { page } = view;
        await ready(page);
        assert.equal(await page.locator('h1').count(), 1);
        assert.match(await page.locator('h1').innerText(), /nitrite/i);
        assert.match(await page.title(), /^North bench/);
        assert.equal(await page.locator('.sheet .band.wide').count(), 5);
        assert.ok(await page.locator('.sheet .mark').count() > 10, 'readings are drawn');
        await page.locator('#mark-a').waitFor({ state: 'attached' });
        await view.check();
        await view.shot('loop');
        await page.getByText('As a table').click();
        assert.ok(await page.locator('.as-table tbody tr').count() > 20);
        await view.check();
        await view.close();
      });

      it('tries an act out and shows both outlooks', async () => {
        const view = await open(browser, program.url, kLoop, { width, theme });
        const { page } = view;
        await ready(page);
        await page.getByLabel('Next dose of ammonia').fill('2');
        await page.getByLabel('Buffer', { exact: true }).fill('40');
        await page.locator('.what-if .sheet svg').waitFor();
        await page.getByText('ammonium chloride', { exact: true }).waitFor();
        assert.equal(await page.locator('.what-if .old').count(), 5);
        assert.ok(await page.locator('.what-if .caution li').count() > 0, 'cautions stand beside the amount');
        assert.ok(await page.locator('.compare tbody tr').count() >= 3);
        await view.check();
        await view.shot('what-if');
        await page.getByRole('button', { name: 'Back to the outlook as it stands' }).click();
        assert.equal(await page.locator('.what-if .sheet').count(), 0);
        await view.close();
      });

      it('says why a test is advised', async () => {
        const view = await open(browser, program.url, kLoop, { width, theme });
        const { page } = view;
        await ready(page);
        await page.getByText('Why this test').click();
        assert.ok(await page.locator('.gains tbody tr').count() >= 5, 'a row for every test');
        assert.match(await page.locator('.why-test').innerText(), /saves more than its price/);
        await view.check();
        await view.shot('why-test');
        await view.close();
      });

      it('looks back when asked', async () => {
        const view = await open(browser, program.url, kLoop, { width, theme });
        const { page } = view;
        await ready(page);
        await page.getByRole('button', { name: 'Look back' }).click();
        await page.locator('.ranks').waitFor({ timeout: 90_000 });
        assert.match(await page.locator('.margin').innerText(), /of \d+ later readings/i);
        const drawn = await page.locator('.rank-row .inside, .rank-row .outside').count();
        const counted = (await page.locator('.rank-row .count').allInnerTexts()).reduce((sum, text) => sum + Number(/of (\d+)/.exec(text)[1]), 0);
        assert.ok(drawn > 10 && drawn === counted, 'a mark for each reading counted');
        await page.getByText('The readings as a table').click();
        assert.ok(await page.locator('.margin .as-table tbody tr').count() >= drawn);
        await view.check();
        await view.shot('track');
        await view.close();
      });

      it('says why a loop does not move, the question first where it stands still', async () => {
        const view = await open(browser, program.url, '/loops/long-raft', { width, theme });
        const { page } = view;
        await ready(page);
        assert.ok(await page.evaluate(() => document.getElementById('why').compareDocumentPosition(document.querySelector('.sheet')) & Node.DOCUMENT_POSITION_FOLLOWING), 'above the sheet');
        await page.getByRole('button', { name: 'Why does it not move?' }).click();
        await page.locator('.cause').nth(1).waitFor({ timeout: 90_000 });
        assert.match(await page.locator('.cause').first().innerText(), /Alkalinity is used up\s+\S.*\d+ in \d+/);
        assert.ok(await page.locator('.cause').first().locator('.caution li').count() > 2, 'cautions stand beside what is dosed');
        assert.match(await page.locator('.telling').innerText(), /\S/);
        await view.check();
        await view.shot('why');
        await view.close();
      });

      it('plans fish where they may go in', async () => {
        const view = await open(browser, program.url, '/loops/ripe', { width, theme });
        const { page } = view;
        await ready(page);
        await fillFish(page, { 'How many fish': '8', 'Weight of one, g': '30', 'Kind of fish': 'tilapia', 'Feed, % of body weight a day': '1,5' });
        await page.getByRole('button', { name: 'May they go in?' }).click();
        await page.locator('.weeks').first().waitFor({ timeout: 60_000 });
        assert.match(await page.locator('.fish .small-sentence').innerText(), /^Go/);
        assert.equal(await page.locator('.weeks').first().locator('tbody tr').count(), 6);
        assert.match(await page.locator('.weeks').first().locator('tbody tr').first().innerText(), /in 100/);
        // Every amount shares a row with its cautions.
        for (const amount of await page.locator('.fish .amount').all()) assert.ok(await amount.locator('xpath=ancestor::*[contains(@class,"beside")][1]//*[@class="caution"]//li').count() > 2);
        await view.check();
        await view.shot('fish');
        await page.goto(program.url + kLoop);
        await ready(page);
        assert.equal(await page.getByLabel('How many fish').inputValue(), '', 'another loop has its own form');
        await page.goBack();
        await ready(page);
        assert.equal(await page.getByLabel('How many fish').inputValue(), '8', 'what was filled in is remembered');
        await view.close();
      });

      it('plans feed and new water with fish in', async () => {
        const view = await open(browser, program.url, '/loops/with-fish', { width, theme });
        const { page } = view;
        await ready(page);
        await page.getByRole('button', { name: 'How much feed?' }).click();
        await page.locator('.fish .amount').first().waitFor({ timeout: 60_000 });
        assert.match(await page.locator('.fish .with-reasons').innerText(), /Change \d+ % of the water/);
        assert.match(await page.locator('.fish').innerText(), /kept for 14 days: .*in 100/);
        await view.check();
        await view.shot('feed');
        await view.close();
      });

      it('puts doubts where they are seen: a log unlike any loop, a deed nobody logged, earlier start-ups', async () => {
        const view = await open(browser, program.url, '/', { width, theme });
        const { page } = view;
        await page.route('**/api/loops/north-bench/outlook', async (route) => {
          const answer = await route.fetch(), outlook = await answer.json();
          outlook.conflict = { p: 0.004, said: true, kind: 'slower_nitrite_step', text: 'The second step is slower than in 99 of 100 loops believed possible. The readings count half.' };
          outlook.history = { loops: 3, text: 'Based on 3 earlier start-ups of yours.', of: ['One', 'Two', 'Three'], learnt: [] };
          outlook.doubts = [{ entry: 30, code: 'unlogged_addition', text: 'More ammonia than the log explains: about 1.2 mg/L (as NH3) seems to have come in before this reading (chance 83 in 100). Was ammonia given and not logged?' },
            { entry: null, code: 'unlike_any_loop', text: outlook.conflict.text }];
          await route.fulfill({ response: answer, json: outlook });
        });
        await page.goto(program.url + kLoop);
        await ready(page);
        assert.equal(await page.getByText('slower than in 99 of 100').count(), 1, 'said once, above the acts');
        assert.ok(await page.evaluate(() => document.querySelector('.unlike').compareDocumentPosition(document.querySelector('.next')) & Node.DOCUMENT_POSITION_FOLLOWING));
        await page.getByText('Based on 3 earlier start-ups of yours.').waitFor();
        assert.match(await page.locator('#doubt-a').innerText(), /Was ammonia given and not logged\?\s+More ammonia/);
        assert.equal(await page.locator('.sheet svg').first().getByText('was ammonia given?').count(), 1, 'asked at the reading');
        await view.check();
        await view.shot('doubts');
        await page.goto(program.url + '/');
        await page.locator('.board-loop .unlike').waitFor({ timeout: 60_000 });
        await view.check();
        await view.shot('board-doubts');
        await view.close();
      });

      it('reads a loop folder that is brought along', async () => {
        const view = await open(browser, program.url, '/bring', { width, theme });
        const { page } = view;
        await view.check();
        await view.shot('bring');
        await page.getByLabel('Choose files').setInputFiles(['loop.toml', 'log.csv'].map((name) => join(demo, 'north-bench', name)));
        await ready(page);
        assert.match(await page.locator('main').innerText(), /nothing of it is kept/i);
        assert.ok(await page.getByRole('table').locator('tbody tr').count() > 40, 'every entry is listed');
        await view.check();
        await view.shot('bring-read');
        await view.close();
      });

      it('asks a wide sheet for what it leaves out', async () => {
        const view = await open(browser, program.url, '/bring', { width, theme });
        const { page } = view;
        const text = 'day,ammonia,nitrite,nitrate,ph,temp_c,event\n0,2,0,,7.8,24,first dose\n3,2,0.1,,,,\n6,1,1,5,7.8,24,\n9,0.2,4,10,,,\n';
        await page.getByLabel('Choose files').setInputFiles({ name: 'days.csv', mimeType: 'text/csv', buffer: Buffer.from(text) });
        await page.getByLabel('First day').fill('2026-03-01');
        await page.getByLabel('All water in circulation, L').fill('300');
        await page.getByLabel('the ion').check();
        await view.check();
        await view.shot('bring-wide');
        await page.getByRole('button', { name: 'Read the sheet with this' }).click();
        await ready(page);
        await view.close();
      });

      it('says what to expect of a loop that has not begun', async () => {
        const view = await open(browser, program.url, '/expect', { width, theme });
        const { page } = view;
        await ready(page);
        assert.match(await page.locator('h1').innerText(), /^No readings yet/);
        await view.check();
        await view.shot('expect');
        await page.getByLabel('All water in circulation, L').fill('-4');
        assert.match(await page.locator('.field-error').innerText(), /from 10 to/);
        await view.close();
      });
    });
  }
}

describe('keeping what was brought', () => {
  it('stores it as a loop of its own and opens it', { skip: process.env.HELMWATER_URL ? 'would write into a program that is not ours' : false }, async () => {
    const view = await open(browser, program.url, '/bring');
    const { page } = view;
    await page.getByLabel('Choose files').setInputFiles(['loop.toml', 'log.csv'].map((name) => join(demo, 'long-raft', name)));
    await page.getByLabel('Name').fill('Brought along');
    await page.getByRole('button', { name: 'Keep it here' }).click();
    await page.waitForURL('**/loops/brought-along');
    await ready(page);
    assert.match(await page.locator('h1').innerText(), /stood still/);
    await view.close();
  });
});

describe('what takes long', () => {
  it('looks back over all loops when asked', async () => {
    const view = await open(browser, program.url, '/', { width: 390 });
    const { page } = view;
    await page.getByRole('button', { name: 'Look back over all loops' }).click();
    await page.locator('.ranks').waitFor({ timeout: 180_000 });
    await page.getByText('The readings as a table').click();
    assert.match(await page.locator('.track-all thead').innerText(), /Loop/);
    await view.check();
    await view.shot('board-track');
    await view.close();
  });
  it('can be left, and asked again', async () => {
    const view = await open(browser, program.url, kLoop);
    const { page } = view;
    await ready(page);
    let held;
    await page.route('**/why', async (route) => { await new Promise((done) => { held = done; }); await route.continue().catch(() => {}); });
    await page.getByRole('button', { name: 'Why does it not move?' }).click();
    await page.getByText('Holding each cause against the log.').waitFor();
    await view.check();
    await page.getByRole('button', { name: 'Leave it' }).click();
    assert.equal(await page.locator('.why progress').count(), 0);
    held();
    await page.unroute('**/why');
    await page.getByRole('button', { name: 'Why does it not move?' }).click();
    await page.locator('.cause').first().waitFor({ timeout: 90_000 });
    await view.close();
  });
});

describe('without a pointer', () => {
  it('fills the fish form, is led to the field that is wrong, and reads why', async () => {
    const view = await open(browser, program.url, kLoop, { allow: /400|422/ });
    const { page } = view;
    await ready(page);
    await page.getByLabel('How many fish').focus();
    await page.keyboard.type('-4');
    await page.keyboard.press('Tab');
    await page.keyboard.type('50');
    await page.keyboard.press('Enter');
    const wrong = page.locator('.fish .field-error');
    await wrong.waitFor();
    assert.match(await wrong.innerText(), /count must be .*1.*100000/);
    assert.equal(await page.evaluate(() => document.activeElement.name), 'count');
    await view.check();
    await page.keyboard.press('Control+a');
    await page.keyboard.type('some');
    await page.keyboard.press('Enter');
    await page.locator('.fish .field-error', { hasText: 'is no number' }).waitFor();
    await page.keyboard.press('Control+a');
    await page.keyboard.press('Delete');
    await page.keyboard.press('Enter');
    await page.locator('.fish .field-error', { hasText: /how many fish/i }).waitFor();
    await page.keyboard.type('20');
    await page.keyboard.press('Enter');
    await page.locator('.fish .small-sentence').waitFor({ timeout: 60_000 });
    assert.equal(await wrong.count(), 0);
    await view.close();
  });

  it('goes from the skip link to the sheet and reads days by arrow keys', async () => {
    const view = await open(browser, program.url, kLoop);
    const { page } = view;
    await ready(page);
    await page.keyboard.press('Tab');
    assert.equal(await page.evaluate(() => document.activeElement.className), 'skip');
    await page.keyboard.press('Enter');
    const slider = page.getByRole('slider', { name: 'Day on the sheet' });
    for (let k = 0; k < 20 && !(await slider.evaluate((element) => element === document.activeElement)); ++k) await page.keyboard.press('Tab');
    const before = Number(await slider.getAttribute('aria-valuenow'));
    await page.keyboard.press('ArrowRight');
    assert.equal(Number(await slider.getAttribute('aria-valuenow')), before + 1);
    await page.keyboard.press('Shift+ArrowLeft');
    assert.equal(Number(await slider.getAttribute('aria-valuenow')), before - 6);
    assert.match(await slider.getAttribute('aria-valuetext'), /Nitrite .*range/);
    assert.equal(await page.locator('.hair').count(), 1);
    await page.keyboard.press('a');
    assert.equal(await page.evaluate(() => document.activeElement.id), 'doubt-a');
    await view.close();
  });

  it('opens, changes and leaves the settings', async () => {
    const view = await open(browser, program.url, kLoop);
    const { page } = view;
    await ready(page);
    await page.getByRole('button', { name: 'Units and light' }).focus();
    await page.keyboard.press('Enter');
    await page.getByLabel('As nitrogen (N)').check();
    assert.match(await page.locator('.sheet svg').first().textContent(), /mg\/L as N[^OH]/);
    await page.getByLabel('Dark paper').check();
    assert.equal(await page.evaluate(() => getComputedStyle(document.body).backgroundColor), 'rgb(16, 23, 28)');
    await view.check();
    await page.keyboard.press('Escape');
    assert.equal(await page.locator('.settings-panel').count(), 0);
    await page.reload();
    await ready(page);
    assert.equal(await page.evaluate(() => document.documentElement.dataset.theme), 'dark');
    await view.close();
  });
});

describe('what goes wrong', () => {
  it('says so when the program does not answer, and goes on when it does', async () => {
    const view = await open(browser, program.url, '/', { allow: /ERR_INTERNET_DISCONNECTED|Failed to load/ });
    const { page } = view;
    await page.locator('.board-loop').first().waitFor();
    await page.context().setOffline(true);
    await page.locator('a[href="/loops/long-raft"]').click();
    await page.getByRole('alert').waitFor();
    assert.match(await page.getByRole('alert').innerText(), /start it again/);
    await view.check();
    await page.context().setOffline(false);
    await page.getByRole('button', { name: 'Try again' }).click();
    await ready(page);
    await view.close();
  });
  it('names a loop that is not there', async () => {
    const view = await open(browser, program.url, '/loops/nowhere', { allow: /404/ });
    await view.page.getByRole('alert').waitFor();
    assert.match(await view.page.locator('h1').innerText(), /no loop named nowhere/);
    await view.check();
    await view.close();
  });
  it('names a path that is not there', async () => {
    const view = await open(browser, program.url, '/somewhere');
    assert.match(await view.page.locator('h1').innerText(), /no page/);
    await view.close();
  });
});

describe('on paper', () => {
  for (const loop of ['north-bench', 'long-raft']) {
    it(`prints ${loop} on one page`, async () => {
      const view = await open(browser, program.url, `/loops/${loop}`);
      await ready(view.page);
      await view.page.getByText('Why this test').click();
      await view.page.getByRole('button', { name: 'Look back' }).click();
      await view.page.locator('.ranks').waitFor({ timeout: 90_000 });
      const pdf = await view.page.pdf({ preferCSSPageSize: true, printBackground: true, path: join(demo, `../../build/screens/print-${loop}.pdf`) });
      assert.equal(pdf.toString('latin1').match(/\/Type\s*\/Page\b/g).length, 1);
      await view.close();
    });
  }
});

describe('speed', () => {
  it('is ready for a hand at a quarter of the machine’s speed', async (test) => {
    const context = await browser.newContext({ viewport: { width: 390, height: 844 } });
    const page = await context.newPage();
    const session = await context.newCDPSession(page);
    await session.send('Emulation.setCPUThrottlingRate', { rate: 4 });
    await page.goto(program.url + '/bring');
    await page.locator('h1').waitFor();
    const ms = await page.evaluate(() => performance.now());
    test.diagnostic(`first sentence and controls after ${Math.round(ms)} ms at 4x throttle`);
    assert.ok(ms < 6000, `took ${ms} ms`);  // wide, so that a busy build machine does not fail it; the aim is 1500 ms
    await context.close();
  });
});
