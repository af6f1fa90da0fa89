import { html, nothing, type TemplateResult } from 'lit'
import type { Position } from '../../protocol/reading.ts'
import { drawDoubt } from '../draw/doubts.ts'
import { shapeHeight, shapeWidth } from '../draw/measure.ts'
import { shapesTemplate } from '../draw/nodes.ts'
import { drawOpening } from '../draw/opening.ts'
import type { Scene } from '../select/scene.ts'
import type { Key } from '../words/en.ts'
import { headline, headTone } from '../words/headline.ts'
import type { Fill } from '../words/words.ts'
import { calm } from './calm.ts'
import { panelOf } from './panel.ts'
import { progressOf } from './round.ts'

/** The headline, the counts and the house's time: what they say changes, where they stand does not. */
export function head(scene: Scene): TemplateResult {
  const { head, when, now } = scene
  const walk = walkLine(scene)
  const isStamped = head.allShut && !walk
  return html`<header class="head" part="head">
    <h1 class="headline ${walk ? '' : headTone(scene.head)} ${isStamped ? 'stamp' : ''}" part="headline" tabindex="-1">${pieces(scene, ...(walk ?? headline(scene)))}</h1>
    ${isStamped ? calm(scene) : counts(scene, walk !== undefined)}
    <p class="time"><time class="clock">${when.clock(now)}</time> <span class="date">${when.day(now)}</span></p>
  </header>`
}

/** On a walk what has been heard of it; what may be open is then one of the counts. */
function walkLine(scene: Scene): readonly [Key, Fill] | undefined {
  const { round } = scene.walk
  return round && panelOf(scene) === 'round' ? ['roundProgress', progressOf(round)] : undefined
}

/** Each count carries the shape that stands for it in the drawing. */
function counts(scene: Scene, isWalk: boolean): TemplateResult {
  const { head, fresh, walk } = scene
  // Where nothing may be open the headline itself counts what is not certain.
  const unsure = head.mayBeOpen > 0 ? head.notCertain : 0
  if (isWalk) {
    const failed = walk.round!.steps.filter(step => step.failed).length
    return html`<ul class="counts" part="counts">
      ${failed > 0 ? count(scene, 'roundUnheard', failed, 'doubt', SIGN.unsure) : nothing}
      ${head.mayBeOpen > 0 ? count(scene, 'mayBeOpen', head.mayBeOpen, 'unseen', SIGN.opened) : nothing}
    </ul>`
  }
  return html`<ul class="counts" part="counts">
    ${head.open > 0 ? count(scene, fresh ? 'openNow' : 'openWas', head.open, 'open', SIGN.open) : nothing}
    ${head.opened > 0 ? count(scene, 'notSeenShut', head.opened, 'unseen', SIGN.opened) : nothing}
    ${unsure > 0 ? count(scene, 'unsure', unsure, 'doubt', SIGN.unsure) : nothing}
  </ul>`
}

const count = (scene: Scene, key: Key, n: number, tone: string, sign: TemplateResult) =>
  html`<li class=${tone}>${sign}<span>${pieces(scene, key, { n })}</span></li>`

const SIZE = 22

/** A window of the drawing, as a sign in a line of text. */
function signOf(position: Position, isUnsure = false): TemplateResult {
  const [width, height] = [shapeWidth('sash', SIZE), shapeHeight('sash', SIZE)]
  const shapes = [
    ...drawOpening('sash', position, width, height),
    ...(isUnsure ? drawDoubt('untested', 'sash', width, height) : []),
  ]
  return html`<svg class="drawing sign" aria-hidden="true" viewBox="-5 -5 ${width + 10} ${height + 10}">${shapesTemplate(shapes)}</svg>`
}

const SIGN = { open: signOf('open'), opened: signOf('opened'), unsure: signOf('closed', true) } as const

/** A sentence whose number stands out. */
function pieces({ words }: Scene, key: Key, fill?: Fill): readonly unknown[] {
  return words.pieces(key, fill).map(({ text, blank }) => (blank ? html`<b>${text}</b>` : html`<i>${text}</i>`))
}
