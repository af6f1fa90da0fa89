import { html, nothing, type TemplateResult } from 'lit'
import { isSurelyShut } from '../../ledger/headline.ts'
import type { Scene } from '../select/scene.ts'
import { lookedAt } from '../state/act.ts'
import { mayBeOpen, type Row, toneOf } from '../state/row.ts'
import { tellRow } from '../words/tell.ts'
import { back, floorName } from './story.ts'

/** Bedtime and leaving: only what may be open, from the top floor down, to walk and tick. */
export function leaving(scene: Scene): TemplateResult {
  const { words, rows } = scene
  const { ticked, wasUnsure } = scene.deeds
  // What was ticked stays where it was: the next tap must not fall on another.
  const isListed = (row: Row) => mayBeOpen(row) || (ticked.has(row.opening.mark) && !wasUnsure.has(row.opening.mark))
  const listed = rows.filter(isListed)
  const open = rows.filter(mayBeOpen)
  const uncertain = rows.filter(
    row => !isListed(row) && (!isSurelyShut(row.reading) || wasUnsure.has(row.opening.mark)),
  )
  return html`<section class="panel leaving" part="leaving" aria-labelledby="leaving-title">
    <div class="panel-head">
      <h2 id="leaving-title" tabindex="-1">${words.say('bedtime')}</h2>
      ${back(scene)}
    </div>
    ${
      listed.length === 0
        ? html`<p class="say">${words.say('bedtimeNone')}</p>`
        : html`<p class="aside">${open.length === 0 ? words.say('bedtimeDone') : words.say('bedtimeIntro')}</p>`
    }
    ${byFloor(listed).map(([floor, there]) => floorList(floor, there, scene))}
    ${uncertain.length > 0 ? uncertainList(uncertain, scene) : nothing}
  </section>`
}

/** Highest floor first: one walks down and leaves by the door. */
function byFloor(rows: readonly Row[]): readonly (readonly [number | undefined, readonly Row[]])[] {
  const floors = new Map<number | undefined, Row[]>()
  for (const row of rows) {
    const floor = row.opening.at?.floor
    floors.set(floor, [...(floors.get(floor) ?? []), row])
  }
  return [...floors].sort(([a], [b]) => (b ?? -1) - (a ?? -1))
}

function floorList(floor: number | undefined, rows: readonly Row[], scene: Scene): TemplateResult {
  const { words, act, maySay } = scene
  const open = rows.filter(mayBeOpen).map(({ opening }) => opening.mark)
  return html`<h3>${floor === undefined ? words.say('noPlace') : floorName(floor, scene)}</h3>
    <ul class="ticks">
      ${rows.map(row => tick(row, scene))}
    </ul>
    ${
      open.length > 1 && maySay
        ? html`<button class="act tick-floor" @click=${() => act(lookedAt(open))}>
            ${words.say('lookedFloor', { n: open.length })}
          </button>`
        : nothing
    }`
}

/** Said, and taken: a keeper may not have answered, and after a time in which nobody listened it is to be seen again. */
const isTicked = ({ opening: { mark }, reading }: Row, { deeds: { ticked }, sending }: Scene): boolean =>
  ticked.has(mark) && !sending.has(mark) && reading.position === 'closed' && !reading.unheard

function tick(row: Row, scene: Scene): TemplateResult {
  const { words, act, maySay } = scene
  const { opening } = row
  const { main, note } = tellRow(row, scene)
  const isDone = isTicked(row, scene)
  return html`<li class="tick ${toneOf(row)} ${isDone ? 'done' : ''}">
    <span class="tag">${opening.mark}</span>
    <span class="what">
      <bdi class="name">${opening.name}</bdi>
      <span class="say">${main}${note ? html`<i>, ${note}</i>` : nothing}</span>
    </span>
    ${
      maySay && !isDone && !isSurelyShut(row.reading)
        ? html`<button
            class="act tick-act"
            aria-label="${words.say('looked')}: ${opening.mark} ${opening.name}"
            @click=${() => act(lookedAt([opening.mark], !mayBeOpen(row)))}
          >
            ${words.say('tickShut')}
          </button>`
        : nothing
    }
  </li>`
}

/** Not heard open, yet not known to be shut: looked at too by those who want to be sure. */
function uncertainList(rows: readonly Row[], scene: Scene): TemplateResult {
  const n = rows.filter(row => !isTicked(row, scene)).length
  return html`<details class="uncertain">
    <summary>${n > 0 ? scene.words.say('uncertainToo', { n }) : scene.words.say('bedtimeDone')}</summary>
    <ul class="ticks">${rows.map(row => tick(row, scene))}</ul>
  </details>`
}
