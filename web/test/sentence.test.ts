// SPDX-License-Identifier: Apache-2.0
// The rules of the sentence and of "cannot tell yet" are this page's own convention.
import { describe, expect, it } from 'vitest';
import { kindOf, milestone } from '../src/words/milestone';
import { sentence } from '../src/words/sentence';
import { actOnBoard, groupOf, silence } from '../src/words/board';
import { between, never, outlook } from './outlook';
import type { Outlook } from '../src/contract';

const kit = { test: 'nitrite', basis: 'NO2', steps: [0, 1, 3.5], steps_page: [0, 1, 3.5] };
const say = (o: Outlook, clock: number | null = Date.parse('2026-11-25T09:00Z')) => sentence({ outlook: o, zone: 'UTC', kits: [kit], basis: 'ion', clock });

describe('cannot tell yet', () => {
  it('stands for ranges wider than three weeks, without an end, or with an even chance', () => {
    expect(kindOf(between(5, 25))).toBe('date');
    expect(kindOf(between(5, 27))).toBe('cannot_tell');
    expect(kindOf({ ...between(5, 25), p95: null })).toBe('cannot_tell');
    expect(kindOf(between(5, 25, 0.7))).toBe('cannot_tell');
    expect(kindOf(between(5, 25, 0.29))).toBe('not_in_sight');
    expect(kindOf({ ...between(-5, -4), reached: true })).toBe('happened');
  });
  it('says what is known and which test would tell', () => {
    const m = milestone('nitrite_first_clear', outlook('nitrite_rising', 1, { nitrite_first_clear: between(5, 45) }), 'UTC')!;
    expect(m.headline).toBe('cannot tell yet');
    expect(m.known).toMatch(/^Not before 30 Nov; likely by 30 Dec, 3 in 4; a nitrite test tells most/);
  });
  it('leaves out a date that does not apply', () =>
    expect(milestone('ready_for_fish', outlook('running', 1, { ready_for_fish: { ...never, applies: false } }), 'UTC')).toBeNull());
});

describe('the sentence', () => {
  it('tells water, turn and fish', () =>
    expect(say(outlook('nitrite_rising', 0.99, { nitrite_peak: between(1, 5), ready_for_fish: between(12, 45) })))
      .toBe('Nitrite is past the top of your chart and still rising. It will likely have turned by Sun 29 Nov (3 in 4). It is too early to name a day for fish; not before 7 Dec.'));
  it('hedges a stage that is not sure', () =>
    expect(say(outlook('nitrite_falling', 0.8, { nitrite_peak: { ...between(-3, -2), reached: true }, nitrite_first_clear: between(2, 8) }))).toMatch(/^Likely \(8 in 10\): nitrite has turned/));
  it('does not say nitrite has turned when its peak lies ahead', () =>
    expect(say(outlook('nitrite_falling', 1, { nitrite_peak: between(1, 5) }))).toMatch(/still rising\. It will likely have turned by/));
  it('names the cause of a stall where it is known', () => {
    const o = outlook('stalled', 1);
    o.now.alkalinity = { ...o.now.alkalinity, p50: 3 };
    expect(say(o)).toMatch(/alkalinity is used up/);
  });
  it('says when the log is old', () => expect(say(outlook('nitrite_rising', 1), Date.parse('2026-11-28T09:00Z'))).toMatch(/^As the log stood on Wed 25 Nov 2026: nitrite/));
  it('does not speak of readings where there are none', () => {
    const o = { ...outlook('waiting', 1), readings_used: 0 };
    expect(say(o)).toMatch(/^No readings yet/);
  });
  it('never says that fish may go in on an even chance', () => {
    const even = { ...between(-1, 20), p95: null, reached: true };  // half of the courses have it behind them
    expect(milestone('ready_for_fish', outlook('ready', 0.57, { ready_for_fish: even }), 'UTC')!.kind).toBe('cannot_tell');
    expect(say(outlook('ready', 0.57, { ready_for_fish: even }))).toContain('cannot be told yet');
    const sure = { ...between(-6, -2), reached: true };
    expect(milestone('ready_for_fish', outlook('ready', 0.97, { ready_for_fish: sure }), 'UTC')!.kind).toBe('happened');
    expect(say(outlook('ready', 0.97, { ready_for_fish: sure }))).toContain('once a test dose is gone');
  });
  it('puts the risk to fish into words and numbers', () => {
    const o = outlook('running', 1, { ready_for_fish: { ...never, applies: false } });
    o.risk = { applies: true, free_ammonia: { limit_mg_l_n: 0.05, within_24_h: 0.5, within_72_h: 0.8 }, nitrite: { limit_mg_l_ion: 1, within_24_h: 0, within_72_h: 0.1 } };
    expect(say(o)).toMatch(/Free ammonia passes the limit for fish within three days: likely \(8 in 10\)/);
  });
});

describe('the board', () => {
  const line = { id: 'a', name: 'A', started: '2026-11-13T08:00:00Z', last_entry: '2026-11-25T06:40:00Z', entries: 3, fish: false, error: null };
  const now = Date.parse('2026-11-25T09:00Z');
  it('wants a look where water turns and nobody wrote for two days', () => {
    const loop = { line, sheet: null, outlook: outlook('nitrite_rising', 1), error: null };
    expect(groupOf(loop, now)).toBe('well');
    expect(groupOf(loop, now + 3 * 86_400_000)).toBe('today');
    expect(groupOf({ ...loop, outlook: null }, now)).toBe('pending');
  });
  it('shows no amount where its cautions do not stand beside it', () => {
    const advice = { code: 'buffer', urgency: 'today' as const, text: 'Raise alkalinity: about 190 g of bicarbonate.', because: [] };
    expect(actOnBoard({ ...advice, caution: ['Wear goggles.'] })).not.toContain('190');
    expect(actOnBoard({ ...advice, caution: [] })).toContain('190');
    expect(actOnBoard(undefined)).toBe('');
  });
  it('tells silence in days', () => {
    expect(silence(line, 'UTC', now)).toBe('today 06:40');
    expect(silence(line, 'UTC', now + 86_400_000)).toBe('yesterday');
    expect(silence(line, 'UTC', now + 4 * 86_400_000)).toBe('silent 4 days');
  });
});
