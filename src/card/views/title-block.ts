import { html, nothing, type TemplateResult } from 'lit'
import { guard } from 'lit/directives/guard.js'
import type { Doubt } from '../../protocol/reading.ts'
import { keyEntries } from '../draw/key.ts'
import { shapesTemplate } from '../draw/templates.ts'
import type { Scene } from '../select/scene.ts'
import type { Row } from '../state/row.ts'
import type { Key } from '../words/en.ts'

/** House, link, the next cell to change and the key to the drawing. */
export function titleBlock(scene: Scene): TemplateResult {
  const { words, house, act } = scene
  return html`<footer class="title-block" part="title-block">
    <div class="house-cell">
      <h2>${words.say('house')}</h2>
      <p>${house.name}</p>
      <p class="aside">${words.say('notAlarm')}</p>
    </div>
    <div class="link-cell">
      <h2>${words.say('link')}</h2>
      <p class="link ${scene.fresh ? '' : 'stale'}">${linkLine(scene)}</p>
      <p class="aside">${sourceLine(scene)}</p>
      ${
        scene.accountKept
          ? html`<button class="quiet-act" @click=${() => act({ kind: 'forget' })}>${words.say('forget')}</button>`
          : nothing
      }
    </div>
    <div>
      <h2>${words.say('nextCell')}</h2>
      <p>${nextCell(scene)}</p>
    </div>
    <div class="key-cell">
      <h2 class="unseen-by-eye">${words.say('key')}</h2>
      <ul class="key">
        ${guard([words], () => KEY.map(([entry, key]) => html`<li>${entry}<span>${words.say(key)}</span></li>`))}
      </ul>
    </div>
  </footer>`
}

const KEY_WORDS: readonly Key[] = [
  'keyOpen',
  'keyOpened',
  'keyClosed',
  'keyTaken',
  'keyNoWord',
  'keyUntested',
  'keySilent',
]

/** The five positions and the commonest doubts, drawn once. */
const KEY = keyEntries(20, 'window', { doubts: ['untested', 'silent'] }).map(
  ({ paths, width, height, x, y }, index) =>
    [
      html`<svg class="drawing key-figure" aria-hidden="true" viewBox="${-x} ${-y} ${width} ${height}">
        ${shapesTemplate(paths)}
      </svg>`,
      KEY_WORDS[index]!,
    ] as const,
)

export function linkLine({ link: { standing, lastWordAt }, words, when, now }: Scene): string {
  switch (standing.state) {
    case 'live':
      if (standing.partial) return words.say('partly', { why: standing.partial })
      return lastWordAt === undefined
        ? words.say('liveNoWord')
        : words.say('liveWord', { ago: when.ago(lastWordAt, now) })
    case 'connecting':
      return words.say('connecting')
    case 'down':
      return words.say('down', { at: when.at(standing.since, now) })
    case 'refused':
      return words.say('refused', { why: standing.why })
    case 'off':
      return words.say(standing.fault === 'mixed' ? 'mixed' : 'noBroker')
  }
}

/** Whose readings these are, and since when they are counted. */
export function sourceLine(scene: Scene): string {
  const { words, when, now, countedSince, beatAt } = scene
  if (scene.shown !== 'own') {
    return beatAt === undefined ? '' : words.say('fromKeeper', { ago: when.ago(beatAt, now) })
  }
  if (countedSince === undefined) return ''
  return words.say(scene.keeperSilent && !scene.keeperAwaited ? 'keeperGone' : 'countedHere', {
    at: when.at(countedSince, now),
  })
}

/** The cell to change first: what failed, what is low, then the earliest day. A silent contact asks for a test instead. */
export function nextCell({ rows, words, when, now }: Pick<Scene, 'rows' | 'words' | 'when' | 'now'>): string {
  const cells = rows.filter(({ opening }) => opening.power === 'cell')
  const first = (doubt: Doubt) => cells.find(({ reading }) => reading.doubts.includes(doubt))
  for (const [doubt, key] of [
    ['spent', 'nextCellSpent'],
    ['faint', 'nextCellFaint'],
    ['low', 'nextCellNow'],
  ] as const) {
    const row = first(doubt)
    if (row) return words.say(key, { mark: row.opening.mark })
  }
  const due = ({ reading }: Row) => reading.left?.changeBy
  const dated = cells
    .filter(due)
    .reduce<Row | undefined>((one, row) => (one && due(one)! <= due(row)! ? one : row), undefined)
  if (dated) return words.say('nextCellBy', { mark: dated.opening.mark, date: when.date(Date.parse(due(dated)!), now) })
  const through = ({ reading: { left } }: Row) => (left ? left.next / (left.alive || 1) : 2)
  const least = cells.reduce<Row | undefined>(
    (one, row) => (one && through(one) <= through(row) ? one : row),
    undefined,
  )
  if (!least?.reading.left) return words.say('noCells')
  return words.say('nextCellThrough', { mark: least.opening.mark, percent: when.percent(through(least)) })
}
