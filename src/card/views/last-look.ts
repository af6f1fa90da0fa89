import { html, nothing, type TemplateResult } from 'lit'
import { isSurelyShut } from '../../ledger/headline.ts'
import type { StepShown } from '../draw/step.ts'
import type { Scene } from '../select/scene.ts'
import { lookedAt } from '../state/act.ts'
import { lookOver } from '../state/look.ts'
import { mayBeOpen, type Row, toneOf } from '../state/row.ts'
import { tellRow } from '../words/tell.ts'
import { isForAll } from './acts.ts'
import { actBox } from './box.ts'
import { canUndo, deedFor, ofLook, ofLookAt } from './deed.ts'
import { floorName, placeOf } from './place.ts'
import { tag } from './tag.ts'

/** The list with the rows as they are now. */
interface Listed {
  readonly open: readonly Row[]
  readonly uncertain: readonly Row[]
  /** To be looked at too, and not on a list that a person has before them. */
  readonly came: readonly Row[]
}

function listedIn({ rows, rowOf, house, deeds }: Scene): Listed {
  const now = lookOver(rows, house.sides)
  const { open, uncertain } = deeds.look ?? now
  const listed = new Set([...open, ...uncertain])
  const those = (marks: readonly string[]) => marks.flatMap(mark => rowOf(mark) ?? [])
  const came = those([...now.open, ...now.uncertain].filter(mark => !listed.has(mark)))
  return { open: those(open), uncertain: those(uncertain), came }
}

/** Each opening of the list with its number, in the order of the list: for the drawing. */
export function lastLookSteps(scene: Scene): ReadonlyMap<string, StepShown> {
  const { open } = listedIn(scene)
  const stateOf = (row: Row): StepShown['state'] =>
    !isToLook(row, scene) ? 'done' : scene.sending.has(row.opening.mark) ? 'sending' : 'waiting'
  const next = open.find(row => stateOf(row) === 'waiting')
  return new Map(
    open.map((row, index) => [row.opening.mark, { number: index + 1, state: row === next ? 'next' : stateOf(row) }]),
  )
}

/** The last look round: only what may be open, from the top floor down, to walk and tick. */
export function lastLook(scene: Scene): TemplateResult {
  const { words, act } = scene
  const { open, uncertain, came } = listedIn(scene)
  return html`<section class="panel last-look" part="last-look" aria-labelledby="last-look-title">
    <div class="panel-head">
      <h2 id="last-look-title" tabindex="-1">${words.say('lastLook')}</h2>
      ${leaveBox([...open, ...uncertain, ...came], scene)}
    </div>
    ${
      open.length === 0
        ? html`<p class="say">${came.some(mayBeOpen) ? '' : words.say('lastLookNone')}</p>`
        : html`<p class="aside">${words.say('lastLookIntro')}</p>`
    }
    <div class="floors">${byFloor(open).map(([floor, there]) => floorList(floor, there, scene))}</div>
    ${uncertain.length > 0 ? uncertainList(uncertain, scene) : nothing}
    ${
      came.length > 0
        ? html`<button class="act came" @click=${() => act({ kind: 'show', view: 'last-look' })}>
            ${words.say('lastLookCame', { n: came.length })}
          </button>`
        : nothing
    }
  </section>`
}

/** How far one is, and what became of the last tick. */
function leaveBox(rows: readonly Row[], scene: Scene): TemplateResult {
  const { words, fresh } = scene
  const left = rows.filter(row => isToLook(row, scene))
  const n = left.filter(mayBeOpen).length
  const unsure = left.length - n
  const deed = deedFor(scene, ofLook)
  const label =
    n > 0 || (unsure === 0 && fresh)
      ? words.say(n === 0 && rows.length > 0 ? 'lastLookDone' : 'stillToLook', { n })
      : words.say(unsure > 0 ? 'unsure' : 'lookYourself', { n: unsure })
  return actBox({ name: 'leave-box', label, deed }, scene)
}

/** In the order of the list. */
function byFloor(rows: readonly Row[]): readonly (readonly [number | undefined, readonly Row[]])[] {
  const floors = new Map<number | undefined, Row[]>()
  for (const row of rows) {
    const floor = row.opening.at?.floor
    floors.set(floor, [...(floors.get(floor) ?? []), row])
  }
  return [...floors]
}

function floorList(floor: number | undefined, rows: readonly Row[], scene: Scene): TemplateResult {
  const { words, maySay } = scene
  return html`<h3>${floor === undefined ? words.say('noPlace') : floorName(floor, scene)}</h3>
    <ul class="ticks">
      ${rows.map(row => tick(row, scene))}
    </ul>
    ${maySay && rows.filter(({ opening }) => opening.reports !== 'both').length > 1 ? floorBox(rows, scene) : nothing}`
}

/** Said of all on a floor at once; what is left to look at there stands in the same place then. */
function floorBox(rows: readonly Row[], scene: Scene): TemplateResult {
  const { words, act, sending } = scene
  const marks = rows.filter(isForAll).flatMap(({ opening: { mark } }) => (sending.has(mark) ? [] : [mark]))
  const n = rows.filter(row => isToLook(row, scene)).length
  return html`<p class="tick-floor">
    ${
      marks.length > 0
        ? html`<button class="act" @click=${() => act(lookedAt(marks))}>
            ${words.say('lookedFloor', { n: marks.length })}
          </button>`
        : n > 0
          ? words.say('stillToLook', { n })
          : html`<b>✓</b> ${words.say('floorDone')}`
    }
  </p>`
}

/** Said, and taken: a keeper may not have answered, and after a time in which nobody listened it is to be seen again. */
const isTicked = ({ opening: { mark }, reading }: Row, { deeds: { ticked }, sending }: Scene): boolean =>
  ticked.has(mark) && !sending.has(mark) && reading.position === 'closed' && !reading.unheard

/** Neither ticked nor known to be shut. */
const isToLook = (row: Row, scene: Scene): boolean => !isSurelyShut(row.reading) && !isTicked(row, scene)

function tick(row: Row, scene: Scene): TemplateResult {
  const { words, maySay } = scene
  const { opening } = row
  const { main, note } = tellRow(row, scene)
  const isDone = isTicked(row, scene)
  return html`<li class="tick ${toneOf(row)} ${isDone ? 'done' : ''}">
    ${tag(opening.mark, opening)}
    <span class="what">
      <bdi class="name">${opening.name}</bdi>
      <span class="say">${main}${note && toneOf(row) !== 'unseen' ? html`<i>, ${note}</i>` : nothing}</span>
      <small class="aside">${saysSo(row) ? words.say('shutItself') : placeOf(opening, scene)}</small>
    </span>
    <span class="tick-place">${maySay ? tickBox(row, scene) : nothing}</span>
  </li>`
}

/** What its contact itself says is open nobody can say to be shut: it ticks itself. */
const saysSo = ({ opening, reading }: Row): boolean => opening.reports === 'both' && reading.position === 'open'

/** The answer stands where the finger was, and can be taken back there. */
function tickBox(row: Row, scene: Scene): TemplateResult {
  const { words, act } = scene
  const { mark, name } = row.opening
  if (scene.sending.has(mark)) return html`<span class="tick-box waits">…</span>`
  if (isTicked(row, scene) || isSurelyShut(row.reading)) {
    const deed = deedFor(scene, ofLookAt(mark))
    return deed && canUndo(deed)
      ? html`<button
          class="tick-box undo"
          aria-label="${words.say('undo')}: ${deed.said.map(each => each.mark).join(', ')}"
          @click=${() => act({ kind: 'undo', deed })}
        >
          <b>✓</b> ${words.say('undo')}
        </button>`
      : html`<span class="tick-box"><b>✓</b></span>`
  }
  if (saysSo(row)) return html`<span class="tick-box">${words.say('ticksItself')}</span>`
  return html`<button
    class="tick-box tick-act"
    aria-label="${words.say('looked')}: ${mark} ${name}"
    @click=${() => act(lookedAt([mark]))}
  >
    ${words.say('tickShut')}
  </button>`
}

/** Not heard open, yet not known to be shut: looked at too by those who want to be sure. */
function uncertainList(rows: readonly Row[], scene: Scene): TemplateResult {
  const { words } = scene
  const n = rows.filter(row => isToLook(row, scene)).length
  return html`<details class="uncertain" open>
    <summary>${words.say(n > 0 ? 'uncertainToo' : 'lastLookDone', { n })}</summary>
    <ul class="ticks">${rows.map(row => tick(row, scene))}</ul>
  </details>`
}
