// SPDX-License-Identifier: Apache-2.0
// Doubtful entries as margin notes; the letter leads to the mark on the sheet and back.
import { t } from '../locale/text';
import { dateTime } from '../words/dates';
import { questionFirst, type Doubts, type LetteredDoubt } from '../words/doubts';
import { formulas } from '../words/numbers';

function Texts({ texts, asks }: Pick<LetteredDoubt, 'texts' | 'asks'>) {
  return <>
    {texts.map((text) => {
      const asked = asks ? questionFirst(text) : null;
      return asked
        ? <div key={text}><p class="strong">{asked.question}</p><p>{formulas(asked.ground)}</p><p class="small">{t(`doubts.answer.${asks!}`)}</p></div>
        : <p key={text}>{formulas(text)}</p>;
    })}
  </>;
}

export function DoubtNotes({ doubts, zone }: { doubts: Doubts; zone: string }) {
  const { lettered, general } = doubts;
  if (lettered.length + general.length === 0) return null;
  return (
    <section>
      <h2 class="section">{lettered.length ? t(lettered.length === 1 ? 'doubts.one' : 'doubts.many', { count: lettered.length }) : t('doubts.general')}</h2>
      {lettered.map(({ letter, entry, texts, asks }) => (
        <div key={letter} class="doubt-note" id={`doubt-${letter}`} tabIndex={-1}>
          {entry.reading && entry.when
            ? <a class="letter" href={`#mark-${letter}`} aria-label={t('doubts.to_mark', { letter })}>{letter}</a>
            : <span class="letter">{letter}</span>}
          <div>
            <p class="small">{t('doubts.entry', { what: entry.what, value: entry.value, date: entry.when ? dateTime(Date.parse(entry.when), zone) : '', line: entry.line })}</p>
            <Texts texts={texts} asks={asks} />
          </div>
        </div>
      ))}
      {general.map((text) => <p key={text} class="doubt-note"><span class="letter" aria-hidden="true">–</span><span>{formulas(text)}</span></p>)}
    </section>
  );
}
