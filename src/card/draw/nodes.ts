/** Shapes as nodes of SVG, by hand: a template for each path costs a page more than the path. */
import { noChange } from 'lit'
import { Directive, directive } from 'lit/directive.js'
import { round, type Shape } from './shapes.ts'

const SVG = 'http://www.w3.org/2000/svg'

function svgNode(name: string, attributes: Readonly<Record<string, string | number>>): SVGElement {
  const node = document.createElementNS(SVG, name) as SVGElement
  for (const attribute in attributes) node.setAttribute(attribute, String(attributes[attribute]))
  return node
}

export function nodeOf(shape: Shape): SVGElement {
  if ('d' in shape) return svgNode('path', { class: shape.pen, d: shape.d })
  const { letter, x, y, anchor, text } = shape
  const node = svgNode('text', { class: letter, x: round(x), y: round(y), 'text-anchor': anchor })
  node.textContent = text
  return node
}

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
