/** Thin Lit templates over the shapes: nothing is decided here. No style attributes, so a strict content policy holds. */
import { html, nothing, svg, type TemplateResult } from 'lit'
import { guard } from 'lit/directives/guard.js'
import { drawElevation, type ElevationWords } from './elevation.ts'
import { shapesTemplate } from './nodes.ts'
import { type OpeningOptions, openingsTemplate } from './openings.ts'
import type { Elevation, Layout, Page } from './plan.ts'
import { round, type Shape } from './shapes.ts'
import type { StepShown } from './step.ts'
import { type Day, drawToday, type Opened } from './today.ts'
import { walkLine } from './walk-line.ts'

export interface PageOptions extends ElevationWords, OpeningOptions {
  /** Name of the whole drawing for a screen reader. */
  readonly label: string
  /** A click, a tap, Enter or Space on an opening. */
  pick(mark: string): void
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
    ${openingsTemplate(elevation.openings, options)}
  </g>`
}

const todayTemplate = (elevation: Elevation, { day, word, openedOn }: Today) => {
  const opened = openedOn(elevation)
  return guard([elevation, day, opened, word], () =>
    shapesTemplate(drawToday(elevation, day, opened, elevation.isFirst ? word : '')),
  )
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
