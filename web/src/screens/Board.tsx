// SPDX-License-Identifier: Apache-2.0
// All loops: who needs a look, whom first. Silence is drawn.
import { useEffect, useState } from 'preact/hooks';
import { listLoops, loopOutlook, loopSheet } from '../api';
import { t } from '../locale/text';
import { ErrorNote, errorText } from '../parts/ErrorNote';
import { Frame } from '../parts/Frame';
import { Progress } from '../parts/Progress';
import { TrackRecord } from '../parts/TrackRecord';
import { Unlike } from '../parts/Unlike';
import { asApiError, useAnswer } from '../parts/useAnswer';
import { Link } from '../route';
import { useSettings } from '../settings';
import { actOnBoard, groupOf, kGroups, silence, weight, type BoardLoop } from '../words/board';
import { dayNumber, kDay, ms } from '../words/dates';
import { earlierLoops, unlikeAnyLoop } from '../words/doubts';
import { formulas } from '../words/numbers';
import { fishRisk, stageSentence } from '../words/sentence';

const kStripDays = 21;

function Strip({ loop, now }: { loop: BoardLoop; now: number }) {
  const x = (at: number) => 2 + 996 * Math.min(1, Math.max(0, 1 - (now - at) / (kStripDays * kDay)));
  const entries = (loop.sheet?.entries ?? []).flatMap((entry) => (entry.when && now - Date.parse(entry.when) < kStripDays * kDay ? Date.parse(entry.when) : []));
  const last = loop.line.last_entry ? x(ms(loop.line.last_entry)!) : null;
  return (
    <svg class="board-strip" viewBox="0 0 1000 22" preserveAspectRatio="none" aria-hidden="true">
      <line class="axis" x1={2} x2={998} y1={14} y2={14} />
      {[0, 7, 14].map((day) => <line key={day} class="axis" x1={2 + (996 * day) / 21} x2={2 + (996 * day) / 21} y1={14} y2={18} />)}
      {entries.map((at, k) => <line key={k} class="entry" x1={x(at)} x2={x(at)} y1={6} y2={14} />)}
      <line class="axis" x1={998} x2={998} y1={6} y2={18} />
      {last !== null && <line class="silence" x1={last} x2={998} y1={14} y2={14} />}
    </svg>
  );
}

function LoopRow({ loop, now }: { loop: BoardLoop; now: number }) {
  const [settings] = useSettings();
  const { line, sheet, outlook } = loop;
  const zone = sheet?.loop.time_zone ?? 'UTC';
  const risk = outlook && fishRisk(outlook), unlike = outlook && unlikeAnyLoop(outlook), earlier = outlook && earlierLoops(outlook);
  const act = outlook?.advice[0], test = outlook?.next_test?.text;
  return (
    <li class="board-loop">
      <p><Link class="loop-name" to={`/loops/${line.id}`}>{line.name}</Link> <span class="small">
        {t(line.fish ? 'board.facts_fish' : 'board.facts', { day: line.started && line.last_entry ? dayNumber(ms(line.last_entry)!, ms(line.started)!, zone) : 0, count: line.entries })}
      </span></p>
      {line.error || loop.error ? <p>{line.error ?? loop.error}</p> : outlook ? <>
        <p>{risk && risk.p >= 0.3 && <span class="danger">{t('fish.at_risk')} </span>}{stageSentence({ outlook, zone, kits: sheet?.loop.kits ?? [], basis: settings.basis, clock: now })}</p>
        {unlike && <Unlike text={unlike} />}
        <p class="strong">{formulas(actOnBoard(act))}</p>
        {test && test !== act?.text && <p>{formulas(test)}</p>}
        {earlier && <p class="small">{earlier}</p>}
      </> : <p class="small">{t('board.pending')}</p>}
      {!line.error && <><Strip loop={loop} now={now} /><p class="small silence-words">{silence(line, zone, now)}</p></>}
    </li>
  );
}

export function Board() {
  const list = useAnswer('loops', listLoops);
  const [more, setMore] = useState<Record<string, Omit<BoardLoop, 'line'>>>({});
  const now = Date.now();
  // One loop after the other, so that a small machine shows the first answers early.
  useEffect(() => {
    if (!list.value) return;
    const abort = new AbortController();
    void (async () => {
      for (const line of list.value!.loops.filter((candidate) => !candidate.error)) {
        try {
          const sheet = await loopSheet(line.id, abort.signal);
          setMore((before) => ({ ...before, [line.id]: { sheet, outlook: null, error: null } }));
          const outlook = await loopOutlook(line.id, abort.signal);
          setMore((before) => ({ ...before, [line.id]: { sheet, outlook, error: null } }));
        } catch (cause) {
          if (abort.signal.aborted) return;
          setMore((before) => ({ ...before, [line.id]: { sheet: null, outlook: null, error: errorText(asApiError(cause)) } }));
        }
      }
    })();
    return () => abort.abort();
  }, [list.value]);

  const loops: BoardLoop[] = (list.value?.loops ?? []).map((line) => ({ line, ...(more[line.id] ?? { sheet: null, outlook: null, error: null }) }));
  loops.sort((a, b) => weight(b, now) - weight(a, now));
  const grouped = kGroups.map((group) => ({ group, loops: loops.filter((loop) => groupOf(loop, now) === group) }));
  const today = grouped[0]!.loops, pending = grouped[3]!.loops.length;
  let said = t('board.reading');
  if (list.error) said = t('board.failed');
  else if (list.value && loops.length === 0) said = t('board.empty');
  else if (list.value && pending > 0) said = t(loops.length === 1 ? 'board.working_one' : 'board.working', { count: loops.length });
  else if (list.value && today.length === 0) said = t(loops.length === 1 ? 'board.none_today_one' : 'board.none_today', { count: loops.length });
  else if (list.value) said = t(loops.length === 1 ? 'board.one_today' : 'board.some_today', { today: today.length, count: loops.length, name: today[0]!.line.name });
  return (
    <Frame place="board" title={t('nav.board')}>
      <h1 class="sentence">{said}</h1>
      {list.error && <ErrorNote error={list.error} again={list.again} />}
      {list.slow && <Progress text={t('board.reading')} usualMs={800} />}
      {list.value && loops.length === 0 && <p>{t('board.empty_what')} <Link to="/bring">{t('nav.bring')}</Link></p>}
      {grouped.filter((each) => each.loops.length > 0).map(({ group, loops: rows }) => (
        <section key={group} class="board-group">
          <h2 class="section"><span>{t(`board.group.${group}`)}</span><span class="count">{rows.length}</span></h2>
          <ul>{rows.map((loop) => <LoopRow key={loop.line.id} loop={loop} now={now} />)}</ul>
        </section>
      ))}
      {loops.length > 0 && <p class="small">{t('board.order')}</p>}
      {loops.some((loop) => loop.line.entries > 0) && (
        <section class="track-all">
          <h2 class="section">{t('track.head_all')}</h2>
          <p class="small">{t('track.explain_all')}</p>
          <TrackRecord id={null} zone={Intl.DateTimeFormat().resolvedOptions().timeZone || 'UTC'} />
        </section>
      )}
    </Frame>
  );
}
