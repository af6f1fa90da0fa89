/** Drawings as Lit templates: the shapes come from `draw/`, this only sets them in SVG. */
import { html, nothing, svg, type TemplateResult } from 'lit'
import type { Entry, Position } from '../ledger/types.ts'
import { gatesLabel, layoutGates } from './draw/gates.ts'
import { type Story, storyOf } from './draw/story.ts'
import { layoutTimeline } from './draw/timeline.ts'
import { drawDoubt, drawOpening } from './draw/opening.ts'
import type { Shape } from './draw/shapes.ts'
import type { Row } from './model.ts'
import type { Scene } from './scene.ts'
import type { Words } from './words/words.ts'

export const shapeOf = (shape: Shape): TemplateResult =>
  'd' in shape
    ? svg`<path class=${shape.pen} d=${shape.d}></path>`
    : svg`<text class=${shape.letter} x=${shape.x} y=${shape.y} text-anchor=${shape.anchor}>${shape.text}</text>`

/** Width of the tally in a row, pixels. */
const GATES_WIDTH = 320

/** Five-bar gates of the present cell. */
export function gatesOf({ reading }: Row, words: Words): TemplateResult | typeof nothing {
  const { sends, left } = reading
  if (sends === 0 && !left) return nothing
  const gates = layoutGates({ sends, left }, GATES_WIDTH)
  const label = gatesLabel({ sends, left }, { both: words.raw('gatesBoth'), sent: words.raw('gatesSent') }, words.lang)
  return html`<svg
    class="drawing gates"
    role="img"
    aria-label=${label}
    viewBox="0 0 ${Math.max(gates.width, GATES_WIDTH)} ${gates.height}"
    preserveAspectRatio="xMinYMid meet"
  >${gates.shapes.map(shapeOf)}</svg>`
}

/** One opening of the key. */
export function keyFigure(figure: Position | 'untested'): TemplateResult {
  const position = figure === 'untested' ? 'closed' : figure
  const [width, height] = [20, 27]
  return html`<svg class="drawing key-figure" aria-hidden="true" viewBox="-6 -6 32 40">
    ${drawOpening('window', position, width, height).map(shapeOf)}
    ${figure === 'untested' ? drawDoubt('untested', 'window', width, height).map(shapeOf) : nothing}
  </svg>`
}

let told: { readonly entries: readonly Entry[]; readonly minute: number; readonly story: Story } | undefined

function storyAt(entries: readonly Entry[], now: number): Story {
  const minute = Math.floor(now / 60_000)
  if (told?.entries !== entries || told.minute !== minute) told = { entries, minute, story: storyOf(entries, now) }
  return told.story
}

/** Openings of one contact on a scale of a day or a year. */
export function timelineOf(entries: readonly Entry[], scale: 'day' | 'year', scene: Scene): TemplateResult {
  const { now, house, words } = scene
  const timeline = layoutTimeline(storyAt(entries, now), {
    scale,
    at: now,
    now,
    timezone: house.timezone,
    width: 560,
    locale: words.lang,
  })
  return html`<svg
    class="drawing timeline"
    role="img"
    aria-label=${words.say('openings', { n: timeline.openings })}
    viewBox="0 0 ${timeline.width} ${timeline.height}"
  >${timeline.shapes.map(shapeOf)}</svg>`
}
