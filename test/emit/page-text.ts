import { type DefaultTreeAdapterMap, parse } from 'parse5'

type Node = DefaultTreeAdapterMap['node']

/** An element as a browser's parser reads it from a page. */
export interface PageElement {
  readonly tag: string
  readonly attributes: Readonly<Record<string, string>>
  /** All text below it. */
  readonly text: string
}

/** Every element of a page below its body and in its head, in order, by the parsing rules of the HTML standard (WHATWG). */
export function elementsOf(html: string): PageElement[] {
  const found: PageElement[] = []
  const visit = (node: Node): string => {
    if ('value' in node) return node.value
    if (!('childNodes' in node)) return ''
    const place = found.length
    if ('tagName' in node) found.push({ tag: node.tagName, attributes: {}, text: '' })
    const text = node.childNodes.map(visit).join('')
    if ('tagName' in node)
      found[place] = {
        tag: node.tagName,
        attributes: Object.fromEntries(node.attrs.map(({ name, value }) => [name, value])),
        text,
      }
    return text
  }
  visit(parse(html))
  return found
}
