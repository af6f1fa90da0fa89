/** Thin Lit templates over the shapes: nothing is decided here. No style attributes, so a strict content policy holds. */
import { html, noChange, nothing, svg, type TemplateResult } from 'lit'
import { Directive, directive } from 'lit/directive.js'
import { guard } from 'lit/directives/guard.js'
import { drawElevation, type ElevationWords } from './elevation.ts'
import { openingShapes, type Shown } from './opening.ts'
import type { Elevation, Layout, OpeningPlace, Page } from './plan.ts'
import { rectangle, round, type Shape } from './shapes.ts'
import type { StepShown } from './step.ts'
import { type Day, drawToday, type Opened } from './today.ts'
import { walkLine } from './walk-line.ts'

export interface PageOptions extends ElevationWords {
  /** Name of the whole drawing for a screen reader. */
  readonly label: string
  /** Absent for a mark that was never heard: drawn as `no-word`. */
  shown(mark: string): Shown | undefined
  /** Whole sentence about one opening for a screen reader. */
  openingLabel(mark: string): string
  /** A click, a tap, Enter or Space on an opening. */
  pick(mark: string): void
  readonly picked?: string | undefined
  /** `noted` (default): tags only where something asks for a look. */
  readonly tags?: 'noted' | 'all'
  /** The line of the day under each side. */
  readonly today?: Today | undefined
  /** The way of a walk. */
  readonly way?: ReadonlyMap<string, StepShown> | undefined
}

export interface Today {
  readonly day: Day
  /** "today". */
  readonly word: string
  openedOn(elevation: Elevation): Opened
}

/** Width of a window above which lines are drawn heavier. */
const LARGE = 44

const UNHEARD: Shown = { position: 'no-word', doubts: [] }

const SVG = 'http://www.w3.org/2000/svg'

function nodeOf(shape: Shape): SVGElement {
  const isPath = 'd' in shape
  const node = document.createElementNS(SVG, isPath ? 'path' : 'text')
  const attributes = isPath
    ? { class: shape.pen, d: shape.d }
    : { class: shape.letter, x: round(shape.x), y: round(shape.y), 'text-anchor': shape.anchor }
  for (const [name, value] of Object.entries(attributes)) node.setAttribute(name, String(value))
  if (!isPath) node.textContent = shape.text
  return node
}

/** By hand: a template for each path costs a page more than the path. */
class Drawn extends Directive {
  #drawn = ''

  render(shapes: readonly Shape[]): unknown {
    const drawn = JSON.stringify(shapes)
    if (drawn === this.#drawn) return noChange
    this.#drawn = drawn
    const nodes = new DocumentFragment()
    nodes.append(...shapes.map(nodeOf))
    return nodes
  }
}

/** Shapes as SVG children, made anew only when they are others. */
export const shapesTemplate = directive(Drawn)

/** A drawing of its own size (gates, timeline, curve, an entry of the key) as a picture with a name; without one it is ornament. */
export const pictureTemplate = (
  drawing: { readonly width: number; readonly height: number; readonly shapes: readonly Shape[] },
  label?: string,
): TemplateResult =>
  html`<svg
    class="drawing"
    width=${round(drawing.width)}
    height=${round(drawing.height)}
    viewBox="0 0 ${round(drawing.width)} ${round(drawing.height)}"
    role=${label ? 'img' : nothing}
    aria-label=${label ?? nothing}
    aria-hidden=${label ? nothing : 'true'}
  >${shapesTemplate(drawing.shapes)}</svg>`

/** One page of elevations. */
export const pageTemplate = (layout: Layout, page: Page, options: PageOptions): TemplateResult =>
  html`<svg
    class=${layout.shape > LARGE ? 'drawing large' : 'drawing'}
    part="elevations"
    width=${round(layout.width)}
    height=${round(layout.height)}
    viewBox="0 0 ${round(layout.width)} ${round(layout.height)}"
    role="group"
    aria-label=${options.label}
    @click=${(event: Event) => pickAt(event, options)}
    @keydown=${(event: KeyboardEvent) => onKey(event, options)}
  >${page.elevations.map(elevation => elevationTemplate(elevation, options))}${options.way ? svg`<g aria-hidden="true">${shapesTemplate(walkLine(page, options.way))}</g>` : nothing}</svg>`

const elevationTemplate = (elevation: Elevation, options: PageOptions) => {
  const caption = options.caption(elevation)
  return svg`<g role="group" aria-label=${caption}>
    <g aria-hidden="true">${guard([elevation, caption, options.level(0)], () => shapesTemplate(drawElevation(elevation, options, options.today !== undefined)))}</g>
    ${options.today ? svg`<g class="today" aria-hidden="true">${todayTemplate(elevation, options.today)}</g>` : nothing}
    ${elevation.openings.map(place => openingTemplate(place, options))}
  </g>`
}

const todayTemplate = (elevation: Elevation, { day, word, openedOn }: Today) => {
  const opened = openedOn(elevation)
  return guard([elevation, day, opened, word], () =>
    shapesTemplate(drawToday(elevation, day, opened, elevation.isFirst ? word : '')),
  )
}

const openingTemplate = (place: OpeningPlace, options: PageOptions) => {
  const { mark } = place
  const shown = options.shown(mark) ?? UNHEARD
  const isPicked = options.picked === mark
  const label = options.openingLabel(mark)
  const { position, doubts, spent, step } = shown
  const drawn = [position, doubts.join(), spent, step?.number, step?.state].join(' ')
  return guard([place, drawn, label, isPicked, options.tags], () => {
    const { hit, shape } = place
    const { paths, tag } = openingShapes(place, shown, options.tags)
    return svg`<g
      class=${isPicked ? 'opening picked' : 'opening'}
      role="button"
      tabindex="0"
      aria-label=${label}
      aria-pressed=${String(isPicked)}
      data-mark=${mark}
    ><path class="hit" d=${rectangle(hit.x, hit.y, hit.width, hit.height)}></path><g transform="translate(${round(shape.x)} ${round(shape.y)})">${shapesTemplate(paths)}</g> ${shapesTemplate(tag)}</g>`
  })
}

function pickAt({ target }: Event, { pick }: PageOptions): void {
  const mark = (target as Element).closest<SVGElement>('.opening')?.dataset.mark
  if (mark !== undefined) pick(mark)
}

function onKey(event: KeyboardEvent, options: PageOptions): void {
  if (event.key !== 'Enter' && event.key !== ' ') return
  event.preventDefault()
  if (!event.repeat) pickAt(event, options)
}
