/** The language of the page around an element, through the shadow roots that it stands in. */
export function langAround(element: Element): string | null {
  for (let at: Node | null = element.parentNode; at; at = at instanceof ShadowRoot ? at.host : at.parentNode) {
    const lang = at instanceof Element && at.getAttribute('lang')
    if (lang) return lang
  }
  return null
}
