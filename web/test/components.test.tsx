// SPDX-License-Identifier: Apache-2.0
// What the answers of the server become on the page. The rules checked are this page's own: a chance has its word and its
// number, an amount its cautions in the same row, "cannot tell" is said.
import type { VNode } from 'preact';
import { renderToString } from 'preact-render-to-string';
import { describe, expect, it } from 'vitest';
import { DoubtNotes } from '../src/parts/DoubtNotes';
import { FishAnswerView, chanceText } from '../src/parts/FishAnswer';
import { FishFormView } from '../src/parts/FishForm';
import { NextAct } from '../src/parts/NextAct';
import { OutlookView } from '../src/parts/OutlookView';
import { TellingBeams } from '../src/parts/TellingBeams';
import { TrackAnswer } from '../src/parts/TrackRecord';
import { WhyAnswer, WhyStuck } from '../src/parts/WhyStuck';
import { lettered, questionFirst } from '../src/words/doubts';
import { fieldOf, kEmptyForm, kFishNames, wishOf } from '../src/words/fish';
import { gainsOf } from '../src/words/nextTest';
import { causes, isFlat, looksStuck } from '../src/words/stuck';
import { trackRows } from '../src/words/track';
import book from '../../data/handbook/fish.toml?raw';
import { feed, fish, next, track, why } from './answers';
import { outlook, q } from './outlook';
import type { Entry, Outlook } from '../src/contract';

const show = (part: VNode) => renderToString(part);
const words = (part: VNode) => show(part).replace(/<[^>]+>/g, ' ').replace(/&quot;/g, '"').replace(/\s+/g, ' ');

describe('the next test', () => {
  const advice = [{ code: 'hold_ammonia', urgency: 'today' as const, text: 'Give no ammonia.', because: ['nitrite is high'], caution: [] },
    { code: 'test_nitrite', urgency: 'this_week' as const, text: next.text, because: [next.because!], caution: [] }];
  it('has its reasons folded where its line stands, and once', () => {
    const html = show(<NextAct advice={advice} next={next} zone="UTC" />);
    expect(html.match(/Test nitrite tomorrow/g)).toHaveLength(1);
    expect(html.match(/<details/g)).toHaveLength(1);
    expect(html.indexOf('<details')).toBeGreaterThan(html.indexOf('Test nitrite tomorrow'));
    expect(html.match(/if it shows nitrite 6 mg\/L/gi)).toHaveLength(1);
  });
  it('stands alone where no advice names it', () => expect(words(<NextAct advice={advice.slice(0, 1)} next={next} zone="UTC" />)).toContain(next.text));
  it('counts gains and prices in hours of start-up', () => {
    const { times, rows, changes } = gainsOf(next);
    expect(times.map((time) => time.inHours)).toEqual([0, 24]);
    expect(rows.map((row) => row.hours)).toEqual([[0, 0.024], [null, 6], [null, 12]]);
    expect(changes.map(({ key }) => key)).toEqual(['nitrite', 'dose,ammonia,nitrite']);
  });
  it('makes bold what saves more than its price, and only that', () => {
    const strong = [...show(<NextAct advice={advice} next={next} zone="UTC" />).matchAll(/<td class="strong">([^<]*)/g)].map((found) => found[1]);
    expect(strong).toEqual(['6.0']);
  });
});

describe('why it does not move', () => {
  it('asks louder where it stands still', () => {
    const quiet = outlook('nitrite_rising', 1), loud = outlook('stalled', 1);
    expect(looksStuck(quiet)).toBe(false);
    expect(looksStuck(loud)).toBe(true);
    expect(show(<WhyStuck id="x" outlook={quiet} />)).not.toContain('class="filled"');
    expect(show(<WhyStuck id="x" outlook={loud} />)).toContain('class="filled"');
  });
  const course = (nitrite: number[]): Outlook => {
    const base = outlook('waiting', 1), now = Date.parse(base.as_of);
    return { ...base, started: new Date(now - 30 * 86_400_000).toISOString(), now: { ...base.now, ammonia: q(2) },
      series: nitrite.map((value, k) => ({ when: new Date(now - (nitrite.length - 1 - k) * 86_400_000).toISOString(), ammonia: q(2), nitrite: q(value), nitrate: q(5), alkalinity: q(90), ph: q(7.5) })) };
  };
  it('calls two weeks without movement flat, and nothing else', () => {
    expect(isFlat(course(Array(16).fill(0.1)))).toBe(true);
    expect(isFlat(course([...Array(10).fill(0.1), 0.5, 1, 2, 4, 6, 8]))).toBe(false);
    expect(isFlat({ ...course(Array(16).fill(0.1)), started: '2026-11-20T08:00:00Z' })).toBe(false);
  });
  it('gives each cause its word, its number and its bar, and cautions beside the remedy', () => {
    const html = show(<WhyAnswer why={why} />), text = words(<WhyAnswer why={why} />);
    expect(text).toContain('Title of low_alkalinity likely, 8 in 10');
    expect(text).toContain('Title of young unlikely, 1 in 4');
    expect(html.match(/chance-bar/g)).toHaveLength(3);
    expect(html).toMatch(/class="part" x="0" y="0" width="84.0%"/);
    expect(text).toMatch(/Remedy of low_alkalinity\. .*Before you begin Wear gloves\. Test ammonia first\./);
    expect(text).toContain('each less than 3 in 100: Title of no_seed');
    expect(text).toContain('cold water (the log has temperature readings)');
  });
  it('does not say the first cause twice', () => expect(words(<WhyAnswer why={why} />).match(/Text of low_alkalinity/g)).toHaveLength(1));
  it('says plainly that it cannot tell, and keeps remedies folded', () => {
    const untold = { ...why, verdict: 'cannot_tell', text: 'The log does not tell.' };
    expect(words(<WhyAnswer why={untold} />)).toContain('Cannot tell yet.');
    expect(show(<WhyAnswer why={untold} />)).not.toContain('<details open');
    expect(show(<WhyAnswer why={why} />).match(/<details open/g)).toHaveLength(1);
  });
  it('shows at least two causes however unlikely the second', () =>
    expect(causes({ ...why, explanations: [{ ...why.explanations[0]!, probability: 0.99 }, { ...why.explanations[1]!, probability: 0.001 }] }).shown).toHaveLength(2));
  it('draws what would be read under both causes on one scale', () => {
    const html = show(<TellingBeams test={why.next_test!} why={why} />);
    const ends = [...html.matchAll(/class="reach" x1="([\d.]+)%" x2="([\d.]+)%" y1="8"/g)].map((found) => [Number(found[1]), Number(found[2])]);
    expect(ends).toHaveLength(2);
    expect(ends[0]![1]).toBeLessThan(ends[1]![0]!);
    expect((ends[1]![1]! - ends[1]![0]!) / (ends[0]![1]! - ends[0]![0]!)).toBeCloseTo(40 / 7, 1);
    expect(words(<TellingBeams test={why.next_test!} why={why} />)).toContain('60 to 100 mg/L CaCO₃');
  });
});

describe('the fish plan', () => {
  it('never rounds a chance up', () => {
    expect(chanceText(0.949)).toBe('very likely, 94 in 100');
    expect(chanceText(0.95)).toBe('very likely, 95 in 100');
    expect(chanceText(1)).toBe('almost certain, 99 in 100');
    expect(chanceText(0.004)).toBe('almost ruled out, less than 1 in 100');
  });
  it('shows the first week with its cautions, the ramp with its chances, and what they wait for', () => {
    const text = words(<FishAnswerView plan={fish} zone="UTC" />);
    expect(text).toMatch(/5 fish in the first week, at most 5\.0 g of feed a day for all of them, at most\..*Before fish go in Let fish get used/);
    expect(text).toContain('Wed 25 Nov 5 5.0 g almost certain, 99 in 100 7');
    expect(text).toContain('Wed 2 Dec none none');
    expect(text).toContain('now very likely, 94 in 100 almost certain, 99 in 100');
    expect(text).toMatch(/last large dose, 1\.9 mg\/L on Sun 22 Nov 08:00: not passed/);
  });
  it('puts every amount into one row with its cautions', () => {
    for (const plan of [fish, feed]) {
      for (const piece of show(<FishAnswerView plan={plan} zone="UTC" />).split('class="amount"').slice(1)) expect(piece.slice(0, piece.indexOf('class="amount"') + 1 || undefined)).toContain('class="caution"');
    }
  });
  it('does not show an amount of a dose large while it must not be given', () => {
    const html = show(<FishAnswerView plan={{ ...fish, challenge: { ...fish.challenge!, now: false } }} zone="UTC" />);
    expect(html).not.toMatch(/class="amount">3\.1/);
    expect(html).toContain('Not now: ammonia and nitrite have to be low first.');
  });
  it('names no number of fish where none may go in', () => {
    expect(show(<FishAnswerView plan={{ ...fish, part_now: false }} zone="UTC" />)).not.toContain('fish in the first week');
    expect(show(<FishAnswerView plan={{ ...fish, part_now: false, verdict: 'cannot_tell', headline: 'Cannot tell.' }} zone="UTC" />)).not.toContain('fish in the first week');
  });
  it('with fish in: the emergency first, then feed, new water and salt', () => {
    const text = words(<FishAnswerView plan={feed} zone="UTC" />);
    expect(text).toMatch(/Fish at risk\. At once: – ?Stop feeding today|Fish at risk\. At once: Stop feeding today/);
    expect(text.indexOf('Stop feeding today')).toBeLessThan(text.indexOf('No feed'));
    expect(text).toContain('Change 50 % of the water every day, the first time now.');
    expect(text).toContain('11 g of plain salt');
  });
  it('asks what was filled in, and catches only what is no number', () => {
    expect(wishOf({ ...kEmptyForm, count: '20', weight: '2,5', species: ' tilapia ', feed: '2' })).toEqual({ wish: { count: 20, weight_g: 2.5, species: 'tilapia', feed_percent: 2, feed_g_per_day: null } });
    expect(wishOf({ ...kEmptyForm, feed: '30', per: 'grams' })).toEqual({ wish: { count: null, weight_g: null, species: null, feed_percent: null, feed_g_per_day: 30 } });
    expect(wishOf({ ...kEmptyForm, weight: 'heavy' })).toMatchObject({ field: 'weight' });
    expect(wishOf({ ...kEmptyForm, count: '-4' })).toMatchObject({ wish: { count: -4 } });  // the server says the allowed range
  });
  it('shows a refusal at its field', () => {
    expect(fieldOf('feed_g_per_day')).toBe('feed');
    expect(fieldOf('protein_percent')).toBeNull();
    const html = show(<FishFormView form={kEmptyForm} change={() => {}} submit={() => {}} withFish={false} busy={false} problem={{ field: 'weight', text: 'weight_g must be from 0.1 to 20000.', round: 1 }} />);
    expect(html).toMatch(/name="weight"[^>]*aria-invalid="true"/);
    expect(html).toMatch(/role="alert">weight_g must be/);
    expect(html.match(/role="alert"/g)).toHaveLength(1);
  });
  it('suggests the fish of the handbook', () => {
    expect(kFishNames).toEqual([...book.matchAll(/^name = "(.+)"$/gm)].map((found) => found[1]));
  });
});

describe('the track record', () => {
  it('has a row a test with a mark for each near reading, a ring outside', () => {
    expect(trackRows(track).map(({ test, cases, inside }) => [test, cases.length, inside])).toEqual([['ammonia', 2, 1], ['nitrite', 2, 1]]);
    const html = show(<TrackAnswer track={track} zone="UTC" several={false} />);
    expect(html.match(/class="outside"/g)).toHaveLength(2);
    expect(html.match(/class="inside"/g)).toHaveLength(2);
    expect(html).toContain('aria-label="Ammonia: 1 of 2 later readings inside the 9-in-10 range"');
  });
  it('has every case in its table, and the loop where there are several', () => {
    const alone = show(<TrackAnswer track={track} zone="UTC" several={false} />), all = show(<TrackAnswer track={track} zone="UTC" several />);
    expect(alone.match(/<tr>/g)).toHaveLength(6);
    expect(alone).not.toContain('>Loop<');
    expect(all).toContain('>Loop<');
    expect(alone).toContain('0.1 to open');
  });
  it('says that earlier outlooks were too sure where enough readings show it', () => {
    const off = (n: number, in_90: number) => words(<TrackAnswer track={{ ...track, near: { ...track.near, n, in_90 } }} zone="UTC" several={false} />);
    expect(off(40, 30)).toContain('too sure');
    expect(off(40, 36)).not.toContain('too sure');
    expect(off(10, 5)).not.toContain('too sure');
  });
  it('says so when there is nothing to hold against', () =>
    expect(words(<TrackAnswer track={{ ...track, text: '', cases_all: 0, cases: [] }} zone="UTC" several={false} />)).toContain('no later reading yet'));
});

describe('doubts', () => {
  const entry: Entry = { line: 7, when: '2026-11-20T08:00:00Z', what: 'ammonia', value: '3', unit: 'mg/L', detail: '', author: null, kind: 'reading', used: true, reading: null, label: null };
  const text = 'More ammonia than the log explains: about 1.2 mg/L (as NH3) seems to have come in before this reading (chance 83 in 100). Was ammonia given and not logged?';
  it('put the question before its ground', () => {
    expect(questionFirst(text)!.question).toBe('Was ammonia given and not logged?');
    expect(questionFirst('The reading is odd.')).toBeNull();
    const said = words(<DoubtNotes doubts={lettered([{ entry: 7, code: 'unlogged_addition', text }], [entry])} zone="UTC" />);
    expect(said).toMatch(/Was ammonia given and not logged\? More ammonia .*\(chance 83 in 100\)\. If it was, add it to the log/);
  });
  it('tell a log unlike any loop above the acts and not among the notes; earlier start-ups under the sentence', () => {
    const told = 'Slower than 99 of 100.';
    const base = { ...outlook('nitrite_rising', 1), conflict: { p: 0.004, said: true, kind: 'slower_nitrite_step', text: told }, doubts: [{ entry: null, code: 'unlike_any_loop', text: told }],
      history: { loops: 3, text: 'Based on 3 earlier start-ups of yours.', of: ['a', 'b', 'c'] }, advice: [{ code: 'wait', urgency: 'note' as const, text: 'Wait.', because: [], caution: [] }] };
    const view = (o: Outlook) => words(<OutlookView outlook={o} entries={[]} kits={[]} zone="UTC" name="x" id={null} clock={null} />);
    const said = view(base);
    expect(said.match(/Slower than 99 of 100/g)).toHaveLength(1);
    expect(said.indexOf(told)).toBeLessThan(said.indexOf('Wait.'));
    expect(said).toContain('Based on 3 earlier start-ups of yours.');
    expect(view({ ...base, conflict: { ...base.conflict, said: false, text: null }, doubts: [], history: { loops: 0, text: 'Nothing is taken.', of: [] } })).not.toMatch(/unlike any|Nothing is taken/);
  });
});
