import { html, nothing, type TemplateResult } from 'lit'
import { guard } from 'lit/directives/guard.js'
import type { Doubt, Position } from '../../protocol/reading.ts'
import { KINDS } from '../../register/types.ts'
import { drawDoubt, drawSpent } from '../draw/doubts.ts'
import { layoutGates } from '../draw/gates.ts'
import { OUTLINE, shapeHeight, shapeWidth } from '../draw/measure.ts'
import { shapesTemplate } from '../draw/nodes.ts'
import { drawOpening } from '../draw/opening.ts'
import type { Shape } from '../draw/shapes.ts'
import { drawStep } from '../draw/step.ts'
import { pictureTemplate } from '../draw/templates.ts'
import type { Scene } from '../select/scene.ts'
import type { Key } from '../words/en.ts'
import { tellBuilder } from '../words/tell-keeper.ts'
import type { Words } from '../words/words.ts'
import { tellTrouble } from './no-house.ts'
import { linkLine } from './strip.ts'
import { sourceLine } from './title-block.ts'

/** What the drawing says with its shapes, and what this tablet is to the house: read once, then folded away. */
export function signs(scene: Scene): TemplateResult {
  const { words, house, act } = scene
  const trouble = scene.registerTrouble
  const { standing } = scene.link
  return html`<section class="panel signs" part="signs" aria-labelledby="signs-title">
    <div class="panel-head">
      <h2 id="signs-title" tabindex="-1">${words.say('signs')}</h2>
    </div>
    <ul class="key">
      ${guard([words], () => [...KEY, ...LINES].map(each => keyLine(each, words)))}
    </ul>
    <div class="about">
      <div class="house-cell"><h3>${words.say('house')}</h3><p>${house.name}</p>${trouble ? html`<p class="aside">${tellTrouble(trouble, words)}</p>` : nothing}</div>
      <div class="link-cell"><h3>${words.say('link')}</h3><p>${linkLine(scene)}</p><p class="aside">${sourceLine(scene)}</p>${standing.state === 'live' && standing.partial ? html`<p class="aside">${standing.partial}</p>` : nothing}${
        scene.keeperNote
          ? tellBuilder(scene.keeperNote, scene).map(line => html`<p class="aside">${line}</p>`)
          : nothing
      }</div>
      <div>
        <h3>${words.say('tablet')}</h3>
        <p>${words.say(scene.maySay ? 'maySayHere' : 'onlyLooks')}</p>
        ${
          scene.accountKept
            ? html`<details class="asks">
                <summary>${words.say('forget')}</summary>
                <button class="act" @click=${() => act({ kind: 'forget' })}>${words.say('forgetSure')}</button>
              </details>`
            : nothing
        }
      </div>
      <div><h3>${words.say('whatNot')}</h3><p>${words.say('notAlarm')}</p><p class="aside">${words.say('strangers')}</p></div>
    </div>
    <p class="choices">
      <button class="act" @click=${() => act({ kind: 'print' })}>${words.say('print')}</button>
      <button class="act" @click=${() => act({ kind: 'show', view: 'schedule' })}>${words.say('schedule')}</button>
    </p>
  </section>`
}

type KeyLine = readonly [figure: TemplateResult | typeof nothing, says: Key]

const keyLine = ([figure, key]: KeyLine, words: Words) => html`<li>${figure}<span>${words.say(key)}</span></li>`

/** The signs alone. */
export const signsKey = (words: Words): TemplateResult =>
  html`<ul class="key">${KEY.map(each => keyLine(each, words))}</ul>`

const UNIT = 24
const ROOM = OUTLINE + 3

const figure = (width: number, height: number, shapes: readonly Shape[]) =>
  html`<svg class="drawing key-figure" aria-hidden="true" viewBox="${-ROOM} ${-ROOM} ${width + 2 * ROOM} ${height + 2 * ROOM}">${shapesTemplate(shapes)}</svg>`

/** Every kind of opening in one position. */
const inAllKinds = (position: Position) =>
  html`<span class="kinds">${KINDS.map(kind => {
    const [width, height] = [shapeWidth(kind, UNIT), shapeHeight(kind, UNIT)]
    return figure(width, height, drawOpening(kind, position, width, height))
  })}</span>`

function doubted(doubt: Doubt | 'sill'): TemplateResult {
  const [width, height] = [shapeWidth('sash', UNIT), shapeHeight('sash', UNIT)]
  const joinery = drawOpening('sash', 'closed', width, height)
  const more = doubt === 'sill' ? drawSpent(0.7, width, height) : drawDoubt(doubt, 'sash', width, height)
  return html`<span class="kinds">${figure(width, height, [...joinery, ...more])}</span>`
}

/** How far one has come on a walk. */
const WALKED = html`<span class="kinds">${(['done', 'next', 'waiting'] as const).map((state, index) => {
  const [width, height] = [shapeWidth('sash', UNIT), shapeHeight('sash', UNIT)]
  const joinery = drawOpening('sash', 'closed', width, height)
  return figure(width, height, [...joinery, ...drawStep({ number: index + 1, state }, width, height)])
})}</span>`

/** The five positions in every kind, the commonest doubts, the cell: drawn by what draws the wall. */
const KEY: readonly KeyLine[] = [
  [inAllKinds('closed'), 'keyClosed'],
  [inAllKinds('open'), 'keyOpen'],
  [inAllKinds('opened'), 'keyOpened'],
  [inAllKinds('taken-closed'), 'keyTaken'],
  [inAllKinds('no-word'), 'keyNoWord'],
  [doubted('untested'), 'keyUntested'],
  [doubted('spent'), 'keySpent'],
  [doubted('overdue'), 'keyOverdue'],
  [doubted('silent'), 'keySilent'],
  [doubted('sill'), 'keySill'],
]

const GATES = layoutGates({ sends: 8, left: { p05: 1, p50: 5, p95: 12 } }, 150)
const LINES: readonly KeyLine[] = [
  [pictureTemplate(GATES), 'keyGates'],
  [WALKED, 'keyWalk'],
  [nothing, 'keyToday'],
  [nothing, 'keyDeaf'],
  [nothing, 'keyStale'],
]
