// @ts-check
/**
 * Our own tagged templates without the white space that only the source needs: lines and indents of `html` and `svg`
 * become one space, and `css` loses its comments and the spaces that CSS passes over.
 */

/** @typedef {{ type: string, start: number, end: number, [key: string]: unknown }} Node */

/** A line break with what stands around it is one space to HTML and SVG, in texts and between attributes alike. */
export const tightMarkup = (/** @type {string} */ text) => text.replace(/\s*\n\s*/g, ' ')

/** Quoted texts stay; what is idle, white space and comments, goes beside a sign and is one space elsewhere; so does the last semicolon of a rule. */
const IDLE = String.raw`(?:\s|/\*[^]*?\*/)`
const CSS = new RegExp(
  String.raw`("[^"]*"|'[^']*')|(?:${IDLE}*;)?${IDLE}*(\})${IDLE}*|${IDLE}*([{;,])${IDLE}*|(:)${IDLE}+|${IDLE}+`,
  'g',
)

export const tightCss = (/** @type {string} */ text) =>
  text.replace(CSS, (_all, quoted, end, sign, colon) => quoted ?? end ?? sign ?? colon ?? ' ')

/** @type {Readonly<Record<string, (text: string) => string>>} */
const TAGS = { html: tightMarkup, svg: tightMarkup, css: tightCss }

/**
 * @param {string} code JavaScript
 * @param {Node} tree its syntax tree, as ESTree has it
 * @returns {string} the same program, but for the white space in its templates
 */
export function tightTemplates(code, tree) {
  /** @type {{ start: number, end: number, text: string }[]} */
  const edits = []
  const visit = (/** @type {Node} */ node) => {
    const tag = /** @type {{ name?: string } | undefined} */ (node.tag)
    const tight = node.type === 'TaggedTemplateExpression' ? TAGS[tag?.name ?? ''] : undefined
    if (tight) {
      const { quasis } = /** @type {{ quasis: Node[] }} */ (node.quasi)
      for (const { start, end } of quasis) edits.push({ start, end, text: tight(code.slice(start, end)) })
    }
    for (const child of Object.values(node).flat()) {
      if (typeof child === 'object' && child !== null && 'type' in child) visit(/** @type {Node} */ (child))
    }
  }
  visit(tree)
  return edits
    .sort((a, b) => b.start - a.start)
    .reduce((text, edit) => text.slice(0, edit.start) + edit.text + text.slice(edit.end), code)
}
