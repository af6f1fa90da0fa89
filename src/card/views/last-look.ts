import { html, nothing, type TemplateResult } from 'lit'
import { isSurelyShut } from '../../ledger/headline.ts'
import { alongSides } from '../../ledger/round.ts'
import type { StepShown } from '../draw/step.ts'
import type { Scene } from '../select/scene.ts'
import { lookedAt } from '../state/act.ts'
import { mayBeOpen, type Row, toneOf } from '../state/row.ts'
import { tellRow } from '../words/tell.ts'
import { isForAll } from './acts.ts'
import { actBox } from './box.ts'
import { canUndo, deedFor, ofLook, ofLookAt } from './deed.ts'
import { floorName, placeOf } from './place.ts'
import { tag } from './tag.ts'

/** What was ticked stays where it was: the next tap must not fall on another. */
function listedIn({ rows, house, deeds: { ticked, wasUnsure } }: Scene): readonly Row[] {
  const along = alongSides(house.sides)
  return rows
    .filter(row => mayBeOpen(row) || (ticked.has(row.opening.mark) && !wasUnsure.has(row.opening.mark)))
    .sort((a, b) => along(a.opening, b.opening))
}

/** Each opening of the list with its number, in the order of the list: for the drawing. */
export function lastLookSteps(scene: Scene): ReadonlyMap<string, StepShown> {
  const listed = byFloor(listedIn(scene)).flatMap(([, rows]) => rows)
  const stateOf = (row: Row): StepShown['state'] =>
    isTicked(row, scene) ? 'done' : scene.sending.has(row.opening.mark) ? 'sending' : 'waiting'
  const next = listed.find(row => stateOf(row) === 'waiting')
  return new Map(
    listed.map((row, index) => [row.opening.mark, { number: index + 1, state: row === next ? 'next' : stateOf(row) }]),
  )
}

/** The last look round: only what may be open, from the top floor down, to walk and tick. */
export function lastLook(scene: Scene): TemplateResult {
  const { words, rows } = scene
  const { wasUnsure } = scene.deeds
  const listed = listedIn(scene)
  const uncertain = rows.filter(
    row => !listed.includes(row) && (!isSurelyShut(row.reading) || wasUnsure.has(row.opening.mark)),
  )
  const unsure = uncertain.filter(row => !isTicked(row, scene)).length
  const isDone = unsure === 0 && !rows.some(mayBeOpen)
  return html`<section class="panel last-look" part="last-look" aria-labelledby="last-look-title">
    <div class="panel-head">
      <h2 id="last-look-title" tabindex="-1">${words.say('lastLook')}</h2>
      ${leaveBox(listed, unsure, scene)}
    </div>
    ${
      listed.length === 0
        ? html`<p class="say">${words.say('lastLookNone')}</p>`
        : html`<p class="aside">${words.say(isDone ? 'lastLookDone' : 'lastLookIntro')}</p>`
    }
    <div class="floors">${byFloor(listed).map(([floor, there]) => floorList(floor, there, scene))}</div>
    ${uncertain.length > 0 ? uncertainList(uncertain, unsure, scene) : nothing}
  </section>`
}

/** How far one is, and what became of the last tick. */
function leaveBox(listed: readonly Row[], unsure: number, scene: Scene): TemplateResult {
  const { words, fresh } = scene
  const n = listed.filter(row => !isTicked(row, scene)).length
  const deed = deedFor(scene, ofLook)
  const label =
    n > 0 || (unsure === 0 && fresh)
      ? words.say('stillToLook', { n })
      : words.say(unsure > 0 ? 'unsure' : 'lookYourself', { n: unsure })
  return actBox({ name: 'leave-box', label, deed }, scene)
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
  const open = rows.filter(isForAll).map(({ opening }) => opening.mark)
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
    @click=${() => act(lookedAt([mark], !mayBeOpen(row)))}
  >
    ${words.say('tickShut')}
  </button>`
}

/** Not heard open, yet not known to be shut: looked at too by those who want to be sure. */
function uncertainList(rows: readonly Row[], n: number, scene: Scene): TemplateResult {
  return html`<details class="uncertain" open>
    <summary>${n > 0 ? scene.words.say('uncertainToo', { n }) : scene.words.say('lastLookDone')}</summary>
    <ul class="ticks">${rows.map(row => tick(row, scene))}</ul>
  </details>`
}
