/** The openings of one elevation as nodes that can be pressed. */
import { noChange, render, svg } from 'lit'
import { type ChildPart, Directive, directive } from 'lit/directive.js'
import { nodeOf } from './nodes.ts'
import { openingShapes, type Shown } from './opening.ts'
import type { OpeningPlace } from './plan.ts'
import { rectangle, round } from './shapes.ts'

export interface OpeningOptions {
  /** Absent for a mark that was never heard: drawn as `no-word`. */
  shown(mark: string): Shown | undefined
  /** Whole sentence about one opening for a screen reader. */
  openingLabel(mark: string): string
  readonly picked?: string | undefined
  /** `noted` (default): tags only where something asks for a look. */
  readonly tags?: 'noted' | 'all'
}

const UNHEARD: Shown = { position: 'no-word', doubts: [] }

/** Made once, and copied for each opening. */
let blank: Node | undefined

function blankNode(): Node {
  const place = document.createElement('p')
  // The blank parts the number of a walk from the mark: they are read out so.
  render(svg`<g role="button" tabindex="0"><path class="hit"></path><g></g> </g>`, place)
  return place.firstElementChild!
}

class OpeningNode {
  readonly node: SVGElement
  readonly #finger: SVGElement
  readonly #joinery: SVGElement
  #tag: readonly SVGElement[] = []
  #place: OpeningPlace | undefined
  #drawn = ''

  constructor() {
    blank ??= blankNode()
    this.node = blank.cloneNode(true) as SVGElement
    this.#finger = this.node.firstChild as SVGElement
    this.#joinery = this.#finger.nextSibling as SVGElement
  }

  draw(place: OpeningPlace, options: OpeningOptions): void {
    const { mark } = place
    const shown = options.shown(mark) ?? UNHEARD
    const { position, doubts, spent, step } = shown
    const isPicked = options.picked === mark
    this.#write('class', isPicked ? 'opening picked' : 'opening')
    this.#write('aria-label', options.openingLabel(mark))
    this.#write('aria-pressed', String(isPicked))
    this.#write('data-mark', mark)
    const drawn = [position, doubts.join(), spent, step?.number, step?.state, options.tags].join(' ')
    if (place === this.#place && drawn === this.#drawn) return
    this.#place = place
    this.#drawn = drawn
    const { hit, shape } = place
    const { paths, tag } = openingShapes(place, shown, options.tags)
    this.#finger.setAttribute('d', rectangle(hit.x, hit.y, hit.width, hit.height))
    this.#joinery.setAttribute('transform', `translate(${round(shape.x)} ${round(shape.y)})`)
    this.#joinery.replaceChildren(...paths.map(nodeOf))
    for (const each of this.#tag) each.remove()
    this.#tag = tag.map(nodeOf)
    this.node.append(...this.#tag)
  }

  #write(attribute: string, value: string): void {
    if (this.node.getAttribute(attribute) !== value) this.node.setAttribute(attribute, value)
  }
}

class Openings extends Directive {
  readonly #nodes: OpeningNode[] = []

  render(_places: readonly OpeningPlace[], _options: OpeningOptions): unknown {
    return noChange
  }

  override update(part: ChildPart, [places, options]: Parameters<this['render']>): unknown {
    for (const { node } of this.#nodes.splice(places.length)) node.remove()
    for (const [index, place] of places.entries()) {
      const opening = this.#nodes[index] ?? new OpeningNode()
      opening.draw(place, options)
      if (opening === this.#nodes[index]) continue
      this.#nodes.push(opening)
      part.parentNode.insertBefore(opening.node, part.endNode)
    }
    return noChange
  }
}

export const openingsTemplate = directive(Openings)
